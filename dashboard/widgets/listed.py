"""Which setups the page has, where a job holds more of them than a page can draw."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html
from dash.exceptions import PreventUpdate

from dashboard.base import ids
from dashboard.base.words import number
from dashboard.state.session import MOST_SETUPS, Session, read_session
from dashboard.widgets.attributes import attributes

AT_ONCE = 50
"""Names offered at a time; typing finds the others."""


def listed(session: Session) -> list[Any]:
    """How many setups are on the page, and the choice of them; nothing where all are."""
    every, shown = len(session.slots), session.listed
    if len(shown) == every:
        return []
    names = dict(zip(session.slots, session.job.setup, strict=True))
    return [
        html.P(
            f"{number(len(shown))} of {number(every)} setups are on this page. "
            f"{number(every - len(shown))} are left out; the file keeps them all.",
            className="lead",
        ),
        html.Details(
            [
                html.Summary("Choose which"),
                dmc.MultiSelect(
                    id=ids.LISTED_PICK,
                    value=[str(slot) for slot in shown],
                    data=[{"value": str(s), "label": setup.name} for s, setup in names.items()],
                    maxValues=MOST_SETUPS,
                    limit=AT_ONCE,
                    searchable=True,
                    hidePickedOptions=True,
                    size="xs",
                    description=f"At most {MOST_SETUPS}: take one out to put another in.",
                    **attributes(aria_label="Setups on this page"),
                ),
            ]
        ),
    ]


def register(app: Dash) -> None:
    """Wire the choice."""

    @app.callback(
        Output(ids.SESSION, "data", allow_duplicate=True),
        Input(ids.LISTED_PICK, "value"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def choose(picked: Any, data: Any) -> Any:
        session = read_session(data)
        wanted = set(picked) if isinstance(picked, list) else set()
        slots = [slot for slot in session.slots if str(slot) in wanted]
        if not slots or set(slots) == set(session.listed):
            raise PreventUpdate
        return session.showing(slots).data()
