"""Four steps for the first visit: shown once, skipped at will."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.widgets.attributes import attributes
from dashboard.widgets.paint import painted, place

STEPS = (
    ("#page-answer", "The answer comes first",
     "This sentence answers the question marked above, for the job that is open: at first an "
     "invented bike with four packs. The words at the top are other questions to the same setups."),
    (".setups-card", "A row is a setup",
     "Choose its pack and tune, press the pencil to change their numbers, copy a row to try "
     "something. A colour and a mark stand for a setup everywhere."),
    ("#page-body .card", "Pictures, then numbers",
     "Lines over road speed, and below them what limits at each speed. “The numbers” opens the "
     "same as a table."),
    (".header-tools", "Your own bike, and away with it",
     "“Open, share” starts a new job from a short form, opens and saves files, copies a link, and "
     "saves numbers and figures. Words underlined with dots tell what they mean."),
)  # fmt: skip
"""What is pointed at, a heading, and what is said."""


WALK = "tour"
"""Where the steps are painted."""


def tour() -> Any:
    """Where the steps go, hidden until the browser knows that this is a first visit."""
    named = attributes(aria_label="First steps", aria_live="polite")
    return html.Section(id="tour", hidden=True, **named, **place(WALK))


def steps() -> dict[str, Any]:
    """The steps, for the browser to paint."""
    buttons = [
        html.Button(said, id=name, type="button", className="tour-button")
        for said, name in (("Skip", "tour-skip"), ("Next", "tour-next"))
    ]
    walked = [_step(at, *step) for at, step in enumerate(STEPS, start=1)]
    return {WALK: painted([*walked, html.Div(buttons, className="tour-buttons")])}


def _step(at: int, target: str, heading: str, said: str) -> Any:
    return html.Div(
        [html.P(f"{at} of {len(STEPS)}", className="soft"), html.H2(heading), html.P(said)],
        className="tour-step",
        hidden=True,
        **attributes(data_target=target),
    )
