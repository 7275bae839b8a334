"""From the page to the job: rows, parts, files."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, no_update, set_props
from dash.exceptions import PreventUpdate

from curves import JobError, dump_job, parse_job
from curves.parts.goals import Hill
from curves.parts.reading import decode
from curves.parts.recount import CELLS
from curves.units import AS_WRITTEN, PERCENT, Units
from dashboard.answers.setups import prepare
from dashboard.base import ids
from dashboard.shell.beside import doubted, moved, stays, why
from dashboard.shell.following import followed
from dashboard.shell.part_form import MODELS, part_form, swaps
from dashboard.state.part_edits import USUAL_HILL, recounted
from dashboard.state.session import PARTS, Session, View, read_session
from dashboard.state.typed_over import settled
from dashboard.state.uploads import decoded
from dashboard.widgets.fields import as_number, typed
from dashboard.widgets.in_browser import in_browser

Edit = Callable[[Session, dict[str, Any], Any, Units], Session]

SESSION_OUT = Output(ids.SESSION, "data", allow_duplicate=True)


def register(app: Dash) -> None:
    """Wire everything that changes the job."""
    _rows(app)
    _parts(app)
    _form(app)
    _opening(app)
    _files(app)


def _rows(app: Dash) -> None:
    @app.callback(
        SESSION_OUT,
        Output(ids.EDITING, "data"),
        Output(ids.MESSAGE, "children", allow_duplicate=True),
        Input(ids.ACTED, "data"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def act(acted: Any, data: Any) -> tuple[Any, Any, Any]:
        session = read_session(data)
        if not acted or acted["slot"] not in session.slots:
            raise PreventUpdate
        slot, do = acted["slot"], acted["do"]
        verb, _, part = do.partition("-")
        if do == "edit-setup":
            return no_update, {"part": part, "name": str(slot)}, no_update
        if verb == "edit" and part in PARTS:
            name = getattr(session.job.setup[session.index(slot)], part)
            return no_update, {"part": part, "name": name}, no_update
        if verb == "own" and part in PARTS:
            session, name = session.own_part(slot, part)
            return session.data(), {"part": part, "name": name}, no_update
        do_it = {
            "toggle": session.toggle,
            "show-all": session.show_all,
            "duplicate": session.duplicate,
            "remove": session.remove,
            "delivered": session.compare_to,
        }.get(do)
        if do_it is None:
            raise PreventUpdate
        try:
            return do_it(slot).data(), no_update, ""
        except JobError as error:
            return no_update, no_update, f"That setup was not added.\n{error}"


def _parts(app: Dash) -> None:
    fields = {"type": "field", "part": ALL, "name": ALL, "key": ALL}

    @app.callback(
        SESSION_OUT,
        Output(ids.EDITING, "data", allow_duplicate=True),
        Input(fields, "value"),
        Input(fields, "checked"),
        State(fields, "id"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def part(values: Any, _checked: Any, names: Any, data: Any, view: Any) -> tuple[Any, Any]:
        before, units = read_session(data), View.parse(view).units
        edited = _applied(before, edit_part, units)
        stands = list(zip(names, values, strict=True))
        session, editing = followed(edited, stands, [name for name, _ in touched()], units)
        # What was typed is in the job already: its name is no step of its own to undo.
        told = session.data() | ({"joins": True} if edited is before else {})
        return (no_update if session is before else told), editing or no_update


def _form(app: Dash) -> None:
    @app.callback(
        Output(ids.FORM, "children"),
        Output(ids.FORM, "className"),
        Output(ids.FORM_UNITS, "data"),
        Input(ids.EDITING, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def form(editing: Any, data: Any, view: Any) -> tuple[Any, str, Any]:
        closed: tuple[list[Any], str, None] = [], "form", None
        if not editing:
            return closed
        session, units = read_session(data), View.parse(view).units
        try:
            made = part_form(session, **editing, units=units)
        except KeyError:
            return closed
        swapped = (
            None if editing.get("sure") else swaps(session, editing["part"], editing["name"], units)
        )
        return made, "form open", swapped


def _opening(app: Dash) -> None:
    @app.callback(
        Output(ids.EDITING, "data", allow_duplicate=True),
        Input(ids.PARTS, "n_clicks"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def open_form(clicks: Any, data: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        return {"part": "pack", "name": read_session(data).job.setup[0].pack}

    # Asked of the browser alone, for each form that opens asks all of them once.
    editing = Output(ids.EDITING, "data", allow_duplicate=True)
    fields = {"type": "field", "part": ALL, "name": ALL, "key": ALL}
    client = partial(in_browser, app, "rimforceForm")
    client("close", editing, Input(ids.FORM_CLOSE, "n_clicks"))
    client("pick", editing, Input(ids.FORM_PICK, "value"), State(ids.EDITING, "data"))
    client(
        "turn",
        Output(fields, "value"),
        Input(ids.FORM_UNITS, "data"),
        Input(ids.VIEW, "data"),
        State(fields, "value"),
        State(fields, "id"),
    )


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
        session = read_session(data)
        return {"content": dump_job(session.job, session.text), "filename": "job.toml"}

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


def edit_row(
    session: Session, where: dict[str, Any], value: Any, units: Units = AS_WRITTEN
) -> Session:
    """A value of a row put into the job; the session itself where nothing changed."""
    slot, key = where["slot"], where["field"]
    if slot not in session.slots:
        return session
    now = getattr(session.job.setup[session.index(slot)], key)
    if key in ("state_of_charge", "winding_c"):
        value = typed(MODELS["setup"], key, value, now, units)
        if key == "state_of_charge":
            # Typed as a percentage, but a share in the file and in what the file's reader says.
            if not 0 <= value <= 100:
                raise ValueError("must be from 0 to 100 %")
            value = round(value / 100, 9)
    if value == now:
        return session
    return session.edit_setup(slot, key, value)


def edit_part(
    session: Session, where: dict[str, Any], value: Any, units: Units = AS_WRITTEN
) -> Session:
    """A value of the part form put into the job; the session itself where nothing changed."""
    part, name, key = where["part"], where["name"], where["key"].replace("/", ".")
    try:
        table = session.table(part, name)
    except KeyError:
        return session
    if key.startswith("tolerance."):
        share = typed_share(value)
        same = share == table.tolerance.get(key.removeprefix("tolerance."))
        return session if same else session.edit_field(part, name, key, share)
    if key.startswith("hill."):
        hill = _hill(table.hill, key.removeprefix("hill."), value, units)
        return session if hill == _tree(table.hill) else session.edit((part, "hill"), hill)
    now = _tree(getattr(table, key))
    if isinstance(now, bool) and not isinstance(value, bool):
        return session
    value = typed(MODELS[part], key, value, now, units)
    if value == now:
        return session
    if part == "pack" and key in CELLS and value is not None:
        return recounted(session, name, key, value)
    return session.edit_field(part, name, key, value)


def typed_share(value: Any) -> float | None:
    """A percentage as typed; None where it was emptied.

    Raises:
        ValueError: if it is no number.
    """
    number = as_number(value)
    return None if number is None else number * PERCENT


def _hill(hill: Hill | None, key: str, value: Any, units: Units) -> dict[str, Any] | None:
    """The goal's hill with one value changed; one that is not there is left alone."""
    if hill is None:
        return None
    return {**_tree(hill), key: typed(Hill, key, value, getattr(hill, key), units)}


def _tree(value: Any) -> Any:
    """A value as the job's tree has it."""
    if isinstance(value, Hill):
        return {key: getattr(value, key) for key in USUAL_HILL}
    return [_tree(item) for item in value] if isinstance(value, list | tuple) else value


def open_file(contents: str, name: str) -> Session:
    """A job file as the browser sends it.

    Raises:
        JobError: if it is not a job.
    """
    text = decode(decoded(contents, name), name)
    return Session.of(parse_job(text, name=name), text)


def touched() -> list[tuple[dict[str, Any], Any]]:
    """Ids and values of all that changed: inputs that appear count too, and may come together.

    What was emptied is an empty text, or None where it was chosen from a list. A value that no
    input but a switch has comes as None too.
    """
    names = ctx.triggered_prop_ids
    return [
        (dict(name), "" if change["value"] is None else change["value"])
        for change in ctx.triggered
        if isinstance(name := names.get(change["prop_id"]), dict)
        and not (change["value"] is None and change["prop_id"].endswith(".checked"))
    ]


def attempt(
    session: Session, edit: Edit, where: dict[str, Any], value: Any, units: Units
) -> tuple[Session, str | None]:
    """The session with an edit in it, and what to say beside the field, None for nothing.

    What is not allowed leaves the session as it was; what no light vehicle has is taken, and said.
    """
    try:
        changed = settled(session, edit(session, where, value, units), where)
    except JobError as error:
        return session, f"{why(error, where, units)}; {stays(session, where, units)}"
    except ValueError as error:
        return session, f"{error}; {stays(session, where, units)}"
    return changed, doubted(changed, where, units) or None


def _applied(session: Session, edit: Edit, units: Units) -> Session:
    """The session with every edit in it that is allowed; why one is not stands beside its field."""
    changed, every = session, touched()
    for where, value in every:
        changed, said = attempt(changed, edit, where, value, units)
        set_props(where, {"error": said})
    # Fields that appear come together, and tell already where their values come from.
    if len(every) == 1:
        for name, properties in moved(changed, every[0][0], units):
            set_props(name, properties)
    if changed is not session:
        prepare(changed)
    return changed
