"""What to do while no setup is shown."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.answers.setups import Comparison
from dashboard.base import ids
from dashboard.widgets.attributes import attributes
from dashboard.widgets.marks import act


def ways_out(compared: Comparison) -> Any:
    """Buttons that bring setups back; None while any is shown."""
    if compared.shown:
        return None
    first, told = compared.session.slots[0], "Show all setups"
    return html.Div(
        [
            html.P(
                "Every setup is hidden: the eye beside a name shows it again.", className="lead"
            ),
            act("", first, "show-all", told, told),
            _press("Start a new job …", ids.INTAKE_OPEN),
            _press("Back to the job as opened", ids.RESET),
        ],
        className="ways-out apart",
    )


def _press(said: str, button: str) -> Any:
    """A button that presses another."""
    return html.Button(
        said, type="button", className="tool worded", **attributes(data_press=button)
    )
