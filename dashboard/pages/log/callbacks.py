"""From the page to what is asked of a log: the file, its columns, the run, what may move."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, no_update, set_props
from dash.exceptions import PreventUpdate

from curves import JobError
from curves.measured.columns import Column
from curves.measured.vocabulary import QUANTITIES
from curves.parts.base import LARGEST
from dashboard.answers.setups import Comparison, read
from dashboard.base import ids
from dashboard.pages.log import log_cards
from dashboard.pages.log import study as logged
from dashboard.pages.log.study import Asked, Seen
from dashboard.state import uploads
from dashboard.state.session import View
from dashboard.widgets.options import wrong_number
from dashboard.widgets.patch import keep


def register(app: Dash) -> None:
    """Wire what is asked of a log."""
    _opening(app)
    _asking(app)
    _mapping(app)


def _opening(app: Dash) -> None:
    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Output(ids.MESSAGE, "children", allow_duplicate=True),
        Input("log-demo", "n_clicks"),
        Input("log-open", "contents"),
        State("log-open", "filename"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def opened(clicks: Any, contents: Any, name: Any, data: Any) -> tuple[Any, str]:
        if not (clicks or contents):
            raise PreventUpdate
        token, called = logged.DEMO, logged.DEMO_NAME
        if ctx.triggered_id == "log-open":
            called = str(name or "log.csv")
            try:
                token = uploads.keep(uploads.decoded(contents, called), called)
                logged.look(token, called, ())
            except JobError as error:
                return no_update, f"That log was not opened.\n{error}"
        view = View.parse(data)
        now = logged.with_asked(
            view, token=token, name=called, columns={}, sure=False, run=1, start=None
        )
        return keep(view, now), ""


def _asking(app: Dash) -> None:
    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input({"type": "log", "key": ALL}, "value"),
        State({"type": "log", "key": ALL}, "id"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def asked(values: Any, names: Any, session: Any, data: Any) -> Any:
        compared, view = read(session, data)
        before, typed = Asked.of(view), dict(zip((n["key"] for n in names), values, strict=True))
        seen = logged.looked(compared, view)
        wrong = ""
        if "start" in typed:
            wrong = wrong_start(typed["start"], compared, view)
            set_props({"type": "log", "key": "start"}, {"error": wrong or None})
        now = replace(
            before,
            channel=typed.get("channel") or before.channel,
            run=int(typed.get("run") or before.run),
            move=tuple(typed["move"]) if typed.get("move") is not None else before.move,
            start=before.start if wrong else _start(typed.get("start"), before, seen),
        )
        if now.run != before.run:
            now = replace(now, start=None)
        # What is said beside a field would be lost with a callback that sets nothing.
        if now == before:
            return no_update
        kept = {"channel": now.channel, "run": now.run, "move": list(now.move), "start": now.start}
        return keep(view, logged.with_asked(view, **kept))


def _mapping(app: Dash) -> None:
    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input(log_cards.column_name(ALL, "name"), "value"),
        Input(log_cards.column_name(ALL, "unit"), "value"),
        State(log_cards.column_name(ALL, "name"), "id"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def mapped(headings: Any, units: Any, names: Any, data: Any) -> Any:
        view = View.parse(data)
        asked = Asked.of(view)
        try:
            look = logged.look(asked.token, asked.name, asked.columns)
        except JobError:
            raise PreventUpdate from None
        taken = {column.quantity: column for column in look.columns}
        said = dict(asked.columns)
        for name, heading, unit in zip(names, headings, units, strict=True):
            quantity = name["quantity"]
            word = _column_said(quantity, taken.get(quantity), heading, unit)
            said |= {} if word is None else {quantity: word}
        if said == dict(asked.columns):
            raise PreventUpdate
        return keep(view, logged.with_asked(view, columns=said, sure=False))

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input("log-sure", "n_clicks"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def confirmed(clicks: Any, data: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        view = View.parse(data)
        return keep(view, logged.with_asked(view, sure=True))


def _column_said(quantity: str, now: Column | None, heading: Any, unit: Any) -> str | None:
    """What a person says of a quantity's column; None where it is as it was."""
    if heading == log_cards.NO_COLUMN:
        return None if now is None else ""
    if now is None or now.name != heading:
        return str(heading)
    kind = QUANTITIES[quantity].kind
    return f"{heading}:{unit}" if unit and unit != log_cards.usual_unit(kind, now.unit) else None


def wrong_start(typed: Any, compared: Comparison, view: View) -> str:
    """What is wrong with where a run is said to begin, and what holds on; empty for nothing."""
    said, seen = wrong_number(typed, -LARGEST, LARGEST), logged.looked(compared, view)
    if not said:
        # Two samples make no run: the log itself says where one may begin.
        tried = logged.looked(compared, logged.with_asked(view, start=float(typed)))
        said = tried.problems[0].message if isinstance(tried, JobError) else ""
    if not said or not isinstance(seen, Seen):
        return said
    found = ", as found," if Asked.of(view).start is None else ""
    return f"{said}; {seen.run.began:.6g} s{found} stays in force"


def _start(typed: Any, before: Asked, seen: Seen | JobError | None) -> float | None:
    """Where a person says that the run begins; None while it is where it was found."""
    if not isinstance(typed, int | float):
        return None
    if before.start is None and isinstance(seen, Seen) and abs(typed - seen.run.began) < 0.006:
        return None
    return float(typed)
