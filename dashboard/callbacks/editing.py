"""From the page to the job: rows, parts, files."""

from __future__ import annotations

import base64
import binascii
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, no_update, set_props
from dash.exceptions import PreventUpdate

from curves import JobError, dump_job, parse_job
from dashboard import ids
from dashboard.components.part_form import MODELS, part_form, typed
from dashboard.state import Session, read_session

SESSION_OUT = Output(ids.SESSION, "data", allow_duplicate=True)


def register(app: Dash) -> None:
    """Wire everything that changes the job."""
    _rows(app)
    _parts(app)
    _files(app)


def _rows(app: Dash) -> None:
    @app.callback(
        SESSION_OUT,
        Input({"type": "row", "slot": ALL, "field": ALL}, "value"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def row(_values: Any, data: Any) -> Any:
        where, value = _changed()
        return _try(where, lambda: edit_row(read_session(data), where, value))

    @app.callback(
        SESSION_OUT,
        Output(ids.EDITING, "data"),
        Input({"type": "act", "slot": ALL, "do": ALL}, "n_clicks"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def act(_clicks: Any, data: Any) -> tuple[Any, Any]:
        where, clicks = _changed()
        if not clicks:
            raise PreventUpdate
        session, slot, do = read_session(data), where["slot"], where["do"]
        if do.startswith("edit-"):
            part = do.removeprefix("edit-")
            name = getattr(session.job.setup[session.index(slot)], part)
            return no_update, {"part": part, "name": name}
        changed = {
            "toggle": session.toggle,
            "duplicate": session.duplicate,
            "remove": session.remove,
            "delivered": session.compare_to,
        }[do](slot)
        return changed.data(), no_update


def _parts(app: Dash) -> None:
    @app.callback(
        SESSION_OUT,
        Input({"type": "field", "part": ALL, "name": ALL, "key": ALL}, "value"),
        Input({"type": "field", "part": ALL, "name": ALL, "key": ALL}, "checked"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def part(_values: Any, _checked: Any, data: Any) -> Any:
        where, value = _changed()
        return _try(where, lambda: edit_part(read_session(data), where, value))

    @app.callback(
        Output(ids.FORM, "children"),
        Output(ids.FORM, "className"),
        Input(ids.EDITING, "data"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def form(editing: Any, data: Any) -> tuple[Any, str]:
        session = read_session(data)
        if not editing or editing["name"] not in getattr(session.job, editing["part"]):
            return [], "form"
        return part_form(session, editing["part"], editing["name"]), "form open"

    @app.callback(
        Output(ids.EDITING, "data", allow_duplicate=True),
        Input(ids.FORM_CLOSE, "n_clicks"),
        prevent_initial_call=True,
    )
    def close(clicks: Any) -> None:
        if not clicks:
            raise PreventUpdate


def _files(app: Dash) -> None:
    @app.callback(
        Output(ids.DOWNLOAD, "data"),
        Input(ids.SAVE, "n_clicks"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def save(clicks: Any, data: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        return {"content": dump_job(read_session(data).job), "filename": "job.toml"}

    @app.callback(
        SESSION_OUT,
        Output(ids.MESSAGE, "children"),
        Input(ids.OPEN, "contents"),
        State(ids.OPEN, "filename"),
        prevent_initial_call=True,
    )
    def opened(contents: Any, name: Any) -> tuple[Any, Any]:
        try:
            session = open_file(contents, name or "job.toml")
        except JobError as error:
            return no_update, f"That file was not opened.\n{error}"
        return {**session.data(), "whole": True, "step": True}, ""


def edit_row(session: Session, where: dict[str, Any], value: Any) -> Session:
    """A value of a row of the setups table put into the job."""
    slot, key = where["slot"], where["field"]
    if slot not in session.slots:
        raise PreventUpdate
    now = getattr(session.job.setup[session.index(slot)], key)
    if key in ("state_of_charge", "winding_c"):
        value = typed(MODELS["setup"], key, value)
        if value is None:
            raise ValueError("must be a number")
        value = round(value / 100, 9) if key == "state_of_charge" else value
    if value == now:
        raise PreventUpdate
    return session.edit_setup(slot, key, value)


def edit_part(session: Session, where: dict[str, Any], value: Any) -> Session:
    """A value of the part form put into the job; the session itself where nothing changed."""
    part, name, key = where["part"], where["name"], where["key"].replace("/", ".")
    known = getattr(session.job, part)
    if name not in known:
        raise PreventUpdate
    value = typed(MODELS[part], key, value)
    now = getattr(known[name], key)
    if value == (list(map(list, now)) if _pairs(now) else list(now) if _list(now) else now):
        return session
    return session.edit((part, name, key), value)


def open_file(contents: str, name: str) -> Session:
    """A job file as the browser sends it.

    Raises:
        JobError: if it is not a job.
    """
    _, _, body = (contents or "").partition(",")
    try:
        text = base64.b64decode(body, validate=True).decode("utf-8")
    except (binascii.Error, UnicodeDecodeError):
        text = "\0"
    return Session.of(parse_job(text, name=name))


def _changed() -> tuple[Any, Any]:
    """The id of the one thing that was touched, and its value."""
    if not ctx.triggered or not isinstance(ctx.triggered_id, dict):
        raise PreventUpdate
    return dict(ctx.triggered_id), ctx.triggered[0]["value"]


def _try(where: dict[str, Any], edit: Any) -> Any:
    """The session changed, or the reason why not beside the field."""
    try:
        session = edit()
    except JobError as error:
        set_props(where, {"error": error.problems[0].message})
        return no_update
    except ValueError as error:
        set_props(where, {"error": str(error)})
        return no_update
    set_props(where, {"error": None})
    return session.data()


def _list(value: Any) -> bool:
    return isinstance(value, list | tuple)


def _pairs(value: Any) -> bool:
    return _list(value) and bool(value) and _list(value[0])
