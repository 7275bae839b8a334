"""Parts that come, go and are renamed in the form."""

from __future__ import annotations

from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, no_update, set_props
from dash.exceptions import PreventUpdate

from curves import JobError
from dashboard.base import ids
from dashboard.shell.editing import SESSION_OUT, touched
from dashboard.state.part_edits import added, copied, removed, renamed, taken_back, with_hill
from dashboard.state.session import read_session


def register(app: Dash) -> None:
    """Wire what makes, renames and takes away parts."""
    _names(app)
    _buttons(app)


def _names(app: Dash) -> None:
    @app.callback(
        SESSION_OUT,
        Output(ids.EDITING, "data", allow_duplicate=True),
        Input({"type": "part-name", "part": ALL, "name": ALL}, "value"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def rename(_values: Any, data: Any) -> tuple[Any, Any]:
        for where, new in touched():
            if isinstance(new, str) and new != where["name"]:
                try:
                    session = renamed(read_session(data), where["part"], where["name"], new)
                except JobError as error:
                    set_props(where, {"error": error.problems[0].message})
                else:
                    return session.data(), {"part": where["part"], "name": new.strip()}
        return no_update, no_update


def _buttons(app: Dash) -> None:
    @app.callback(
        SESSION_OUT,
        Output(ids.EDITING, "data", allow_duplicate=True),
        Input({"type": "form-act", "do": ALL}, "n_clicks"),
        State(ids.EDITING, "data"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def act(clicks: Any, editing: Any, data: Any) -> tuple[Any, Any]:
        if not any(clicks) or not editing:
            raise PreventUpdate
        session, part, name = read_session(data), editing["part"], editing["name"]
        do, _, which = ctx.triggered_id["do"].partition("/")
        if do in ("sure", "values"):
            return no_update, {"part": part, "name": name, "sure": do == "sure"}
        if do == "remove":
            return removed(session, part, name).data(), None
        if do == "hill":
            session = with_hill(session, there=which == "add")
        elif do == "take":
            session = taken_back(session, name, which)
        elif do == "copy":
            session, name = copied(session, part, name)
        else:
            session, name = added(session, part, which, {"profile": which})
        return session.data(), {"part": part, "name": name}
