"""Four steps for the first visit: shown once, skipped at will."""

from __future__ import annotations

from typing import Any

from dash import html

STEPS = (
    ("#page-answer", "The answer comes first",
     "This sentence answers the question marked above. The demonstration is open: an invented "
     "bike with four packs. Each tab is another question to the same setups."),
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


def tour() -> Any:
    """The steps, hidden until the browser knows that this is a first visit."""
    return html.Section(
        [
            *(_step(place, *step) for place, step in enumerate(STEPS, start=1)),
            html.Div(
                [
                    html.Button("Skip", id="tour-skip", type="button", className="tour-button"),
                    html.Button("Next", id="tour-next", type="button", className="tour-button"),
                ],
                className="tour-buttons",
            ),
        ],
        id="tour",
        hidden=True,
        **{"aria-label": "First steps", "aria-live": "polite"},
    )


def _step(place: int, target: str, heading: str, said: str) -> Any:
    return html.Div(
        [html.P(f"{place} of {len(STEPS)}", className="soft"), html.H2(heading), html.P(said)],
        className="tour-step",
        hidden=True,
        **{"data-target": target},
    )
