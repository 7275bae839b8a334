"""Was it right? A log of a run beside its prediction, and the job corrected by it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
import numpy as np
from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from curves import JobError, dump_job
from curves.measured.overlay import rms
from curves.numerics.counts import evenly
from curves.present.table import Table
from curves.units import KMH
from curves.words.overlay import verdict
from dashboard.answers.setups import Comparison, read
from dashboard.answers.study_options import MOST_ROWS
from dashboard.base import ids
from dashboard.base.words import number, speed_factor, unbroken
from dashboard.pages.log import callbacks as asking
from dashboard.pages.log import figure as drawing
from dashboard.pages.log import log_cards
from dashboard.pages.log import study as logged
from dashboard.pages.log.study import PAGE as NAME
from dashboard.pages.log.study import Asked, Seen
from dashboard.state.session import View, read_session
from dashboard.widgets import choice
from dashboard.widgets.attributes import attributes
from dashboard.widgets.buttons import plain_button
from dashboard.widgets.figure_card import figure_card
from dashboard.widgets.follow import follow
from dashboard.widgets.page import Page
from dashboard.widgets.progress import place, start
from dashboard.widgets.setups_table import Column

OVERLAY = "log-overlay"
TITLES = {"speed": "Speed", "distance": "Way", "volts": "Pack volts", "amperes": "Pack amperes"}


def answer(compared: Comparison, view: View) -> Any:
    """How far off the prediction is, and after a fit how far the corrected one."""
    asked, seen = Asked.of(view), logged.looked(compared, view)
    if not asked.token:
        return [
            html.H1("Was the prediction right? Read the log of a run from rest."),
            html.P(
                "A GPS logger’s or a controller’s CSV, or a GPX track. Or take the "
                "demonstration’s, below.",
                className="more",
            ),
        ]
    if isinstance(seen, JobError):
        return [
            html.H1("That log cannot be compared."),
            html.Ul([html.Li(x) for x in logged.told(seen)], className="more"),
        ]
    if seen is None:
        return html.H1(f"Check what the columns of “{asked.name}” mean, then compare.")
    mph = view.speed == "mph"
    off = rms(seen.before, "speed") / KMH * speed_factor(view.speed)
    more = [f"Speed is off by {number(off, 2)} {view.speed} on average (root mean square)."]
    if seen.after is None:
        said = f"“{seen.reading.name}”: {verdict(seen.before, mph=mph)}"
    else:
        said = f"“{seen.reading.name}”: {verdict(seen.after, mph=mph, by='the corrected job')}"
        left = rms(seen.after, "speed") / KMH * speed_factor(view.speed)
        more = [
            f"Speed was off by {number(off, 2)} {view.speed} on average, now by {number(left, 2)}."
        ]
    return [
        html.H1(unbroken(said)),
        html.Ul([html.Li(unbroken(x)) for x in (*more, *seen.run.notes)], className="more"),
    ]


def columns(_compared: Comparison, _view: View) -> Sequence[Column]:
    """None: the page is about one run."""
    return ()


def body(compared: Comparison, view: View) -> Any:
    """The log, then what there is to see of it."""
    return [
        html.Div(className="no-setups"),
        dcc.Store(id="log-drawn", data=_structure(compared, view)),
        html.Section(
            _source(compared, view),
            id="log-source",
            className="card",
            **attributes(aria_label="The log"),
        ),
        html.Div(_cards(compared, view), id="log-cards"),
    ]


def _source(compared: Comparison, view: View) -> list[Any]:
    reading = logged.ridden(compared, view)
    return [
        html.Div(
            [
                html.H2("The log"),
                html.P("It stays on this machine.", className="lead"),
            ],
            className="card-head",
        ),
        html.Div(
            [
                dcc.Upload(plain_button("Open a log …"), id="log-open"),
                plain_button("Take the demonstration’s", id="log-demo"),
                choice.choice(compared, NAME, reading, "Setup that was ridden"),
            ],
            className="buttons",
        ),
    ]


def _cards(compared: Comparison, view: View) -> list[Any]:
    asked = Asked.of(view)
    if not asked.token:
        return []
    try:
        look = logged.look(asked.token, asked.name, asked.columns)
    except JobError:
        return []
    mapping = log_cards.columns_card(look, sure=asked.sure)
    seen = logged.looked(compared, view)
    if not isinstance(seen, Seen):
        return [mapping]
    return [
        figure_card(
            OVERLAY,
            "The run on the prediction",
            "Dots are the log, the line is the prediction.",
            _draw(compared, view),
            "The measured run over time beside the predicted one, and the difference.",
            _tools(seen, asked),
        ),
        html.Section(
            html.Div(_splits(seen, view), id="log-splits"),
            className="card",
            **attributes(aria_label="Splits"),
        ),
        log_cards.fit_card(asked.move, place("fit", view)),
        mapping,
    ]


def _tools(seen: Seen, asked: Asked) -> Any:
    shown = [c for c in TITLES if c in seen.before.measured]
    begin = seen.run.began if asked.start is None else asked.start
    return html.Div(
        [
            dmc.Select(
                label="Quantity",
                data=[{"value": c, "label": TITLES[c]} for c in shown],
                value=asked.channel if asked.channel in shown else "speed",
                id={"type": "log", "key": "channel"},
                allowDeselect=False,
                size="xs",
            ),
            dmc.Select(
                label="Run",
                data=[str(k + 1) for k in range(len(seen.runs))],
                value=str(min(asked.run, len(seen.runs))),
                id={"type": "log", "key": "run"},
                allowDeselect=False,
                size="xs",
            ),
            dmc.NumberInput(
                label=f"Begins at, s (found ± {seen.before.found.start_u:.2f})",
                value=round(begin, 2),
                step=0.05,
                decimalScale=2,
                id={"type": "log", "key": "start"},
                clampBehavior="none",
                size="xs",
            ),
        ],
        className="pins",
    )


def _draw(compared: Comparison, view: View) -> dict[str, Any]:
    seen, asked = logged.looked(compared, view), Asked.of(view)
    if not isinstance(seen, Seen):
        return drawing.blank("Nothing to compare yet")
    channel = asked.channel if asked.channel in seen.before.measured else "speed"
    unit, factor = _unit(channel, view)
    lines = [drawing.Predicted("the job", seen.before.predicted[channel] * factor)]
    one = seen.before
    if seen.after is not None:
        one = seen.after
        # On the clock of the fit's own start, both lines are drawn at the same samples.
        lines.append(drawing.Predicted("corrected", one.predicted[channel] * factor))
    return drawing.build(
        TITLES[channel], unit, one.time, one.measured[channel] * factor, lines,
        seen.reading.slot, view.width,
    )  # fmt: skip


def _unit(channel: str, view: View) -> tuple[str, float]:
    if channel == "speed":
        return view.speed, speed_factor(view.speed) / KMH
    return {"distance": "m", "volts": "V", "amperes": "A"}[channel], 1.0


def _numbers(compared: Comparison, view: View) -> Table:
    seen, asked = logged.looked(compared, view), Asked.of(view)
    if not isinstance(seen, Seen):
        return Table(["Time, s"], [], "Nothing to compare yet")
    channel = asked.channel if asked.channel in seen.before.measured else "speed"
    unit, factor = _unit(channel, view)
    head = ["Time, s", "Measured", "The job"]
    columns = [seen.before.measured[channel], seen.before.predicted[channel]]
    if seen.after is not None:
        head.append("Corrected")
        columns.append(seen.after.predicted[channel])
    time = seen.before.time
    picked = np.unique(np.searchsorted(time, evenly(0.0, float(time[-1]), 1.0, MOST_ROWS)))
    rows = [
        [number(float(time[k]), 1), *(number(float(c[k]) * factor, 2) for c in columns)]
        for k in picked
    ]
    return Table(head, rows, f"{TITLES[channel]}, {unit}")


def _splits(seen: Seen, view: View) -> list[Any]:
    return [
        html.Div(
            [
                html.H2("Splits side by side"),
                html.P("± comes from the log’s sample rate and noise.", className="lead"),
            ],
            className="card-head",
        ),
        log_cards.splits_table(seen.before, seen.after, mph=view.speed == "mph"),
    ]


def _structure(compared: Comparison, view: View) -> list[Any]:
    """What decides which cards there are; numbers within them follow by themselves."""
    asked, seen = Asked.of(view), logged.looked(compared, view)
    told = str(seen) if isinstance(seen, JobError) else ""
    runs = len(seen.runs) if isinstance(seen, Seen) else 0
    slots = [[r.slot, r.name, r.shown] for r in compared.readings]
    return [
        asked.token,
        asked.name,
        [list(x) for x in asked.columns],
        asked.sure,
        told,
        runs,
        slots,
    ]


def register(app: Dash) -> None:
    """The log, what is asked of it, and what becomes of the job."""
    choice.register(app, NAME, logged.ridden)
    follow(app, OVERLAY, _draw, _numbers)
    start(app, "fit", "log-fit", logged.work)
    asking.register(app)
    _following(app)
    _taking(app)


def _following(app: Dash) -> None:
    kept = (State(ids.SESSION, "data"), State(ids.VIEW, "data"))

    @app.callback(
        Output("log-source", "children"),
        Output("log-cards", "children"),
        Output("log-drawn", "data"),
        Input(ids.SETTLED, "data"),
        *kept,
        State("log-drawn", "data"),
        prevent_initial_call=True,
    )
    def redraw(_rested: Any, session: Any, view: Any, drawn: Any) -> tuple[Any, ...]:
        compared, looked = read(session, view)
        now = _structure(compared, looked)
        if now == drawn:
            raise PreventUpdate
        return _source(compared, looked), _cards(compared, looked), now

    @app.callback(
        Output("log-splits", "children"),
        Output("log-found", "children"),
        Input(ids.SETTLED, "data"),
        Input("log-cards", "children"),
        *kept,
        prevent_initial_call=True,
    )
    def found(_rested: Any, _cards: Any, session: Any, view: Any) -> tuple[Any, Any]:
        compared, looked = read(session, view)
        seen = logged.looked(compared, looked)
        if not isinstance(seen, Seen):
            raise PreventUpdate
        return _splits(seen, looked), log_cards.found_table(seen)


def _taking(app: Dash) -> None:
    @app.callback(
        Output(ids.SESSION, "data", allow_duplicate=True),
        Output(ids.DOWNLOAD, "data", allow_duplicate=True),
        Input("log-take", "n_clicks"),
        Input("log-save", "n_clicks"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def taken(take: Any, save: Any, session: Any, view: Any) -> tuple[Any, Any]:
        seen = logged.looked(*read(session, view))
        if not (take or save) or not isinstance(seen, Seen) or seen.better is None:
            raise PreventUpdate
        if ctx.triggered_id == "log-save":
            return no_update, {"content": dump_job(seen.better), "filename": "corrected-job.toml"}
        changed = replace(read_session(session), job=seen.better)
        return {**changed.data(), "whole": True, "step": True}, no_update


PAGE = Page("/log", "Was it right?", answer, body, columns, register)
