"""Pinned speeds and slopes: chosen in lists, dragged at their lines."""

from __future__ import annotations

from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, no_update, set_props

from dashboard.base import ids
from dashboard.pages.which_pack.pins import pinned_by, wrong
from dashboard.state.session import View, read_session
from dashboard.widgets.in_browser import in_browser
from dashboard.widgets.patch import keep

HANDLE = {"type": "handle", "place": ALL, "kmh": ALL}


def register(app: Dash) -> None:
    """Wire the lists of pinned speeds and slopes, and the handles of the lines."""

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input({"type": "pin", "kind": ALL, "unit": ALL}, "value"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def pin(_values: Any, session: Any, data: Any) -> Any:
        old = view = View.parse(data)
        job = read_session(session).job
        for change in ctx.triggered:
            # None where the lists themselves went, with their page.
            name = ctx.triggered_prop_ids.get(change["prop_id"])
            if name and name["unit"] == view.speed:
                view = pinned_by(name["kind"], change["value"], view, job)
                said = wrong(name["kind"], change["value"], view.speed)
                set_props(dict(name), {"error": said or None})
        # What is said beside a field would be lost with a callback that sets nothing.
        if view == old:
            return no_update
        return keep(old, view)

    in_browser(
        app,
        "rimforce",
        "pinned",
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input(HANDLE, "value"),
        State(HANDLE, "id"),
        State(ids.VIEW, "data"),
    )
