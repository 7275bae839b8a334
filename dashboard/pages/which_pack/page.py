"""Which pack? The answer, what every setup comes to, and force and power over road speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
import numpy as np
from dash import (
    ALL,
    Dash,
    Input,
    Output,
    State,
    dcc,
    html,
    no_update,
)
from dash.exceptions import PreventUpdate

from curves.words.levers import buys
from dashboard.answers.setups import (
    Comparison,
    answer_of,
    gained_of,
    measure_next_of,
    read,
    road_forces,
)
from dashboard.base import ids
from dashboard.base.words import number, unbroken
from dashboard.pages.which_pack import figure as panels
from dashboard.pages.which_pack import pinning, tables
from dashboard.pages.which_pack.pins import handles, panels_chosen, pins, stand, stand_as
from dashboard.state.session import View
from dashboard.widgets import result_columns as results
from dashboard.widgets.attributes import attributes
from dashboard.widgets.choice import chosen
from dashboard.widgets.drive_off import drive_off
from dashboard.widgets.figure_card import figure_card, numbers_table
from dashboard.widgets.follow import tell
from dashboard.widgets.in_browser import in_browser
from dashboard.widgets.page import Page
from dashboard.widgets.paint import painted, place
from dashboard.widgets.setups_table import Column

KEY = "panels"
TITLE = "Over road speed"
DRAWN = {"type": "drawn", "key": KEY}
MOVED = {"type": "moved", "key": KEY}
DUE = {"type": "due", "key": KEY}
"""Counts up when job or view is not yet what the plots show."""
ANSWERED = {"type": "answered", "key": KEY}
"""How far that count has been followed: what is still under way may be of before what was typed."""
GAINS = "gains"
FARTHEST, ROOM, STAYS = 2.0, 20.0, 0.75
"""While somebody types an axis of speed keeps its end up to so many times as far as it would be;
where it must go on it goes to the next of such steps, to be redrawn seldom. At rest it stays where
it would have to be so many times as long, as in ``moving.js``."""


def answer(compared: Comparison, view: View) -> Any:
    """The sentence that leads the page, and a few more below it."""
    found = answer_of([r.rig for r in compared.shown], compared.job.goals, view.units)
    more = [html.Li(unbroken(line)) for line in (*found.more, *_levers(compared, view))]
    return [
        html.H1(unbroken(found.headline)),
        drive_off(compared.shown, view.speed),
        html.Ul(more, className="more") if more else None,
    ]


def _levers(compared: Comparison, view: View) -> list[str]:
    """What one more of each thing buys the setup others are compared to, and what to measure."""
    about = chosen(compared, view, KEY)
    if about is None:
        return []
    if not about.curve.starts:
        return []
    # All at once: the table asks for the others, and a call costs more than its setups.
    every = gained_of([r.rig for r in compared.readings], view.units)
    gained = next(own for r, own in zip(compared.readings, every, strict=True) if r is about)
    gains = buys(gained, about.curve.top_limits, units=view.units)
    (measure,) = measure_next_of([about.rig], view.units)
    return [f"“{about.name}”: {line}" for line in (gains, measure) if line]


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """What the table says of every setup."""
    return [
        results.fit_column(compared, view),
        results.volts_column(),
        *results.speed_columns(compared, view),
        results.limit_column(compared, view),
        results.care_column(compared, view),
        *results.pinned_columns(compared, view),
    ]


def body(compared: Comparison, view: View) -> Any:
    """The plots, and what a little more of everything buys."""
    frame, roads = _frame(compared, view)
    return [
        dcc.Store(id=DRAWN, data=panels.structure(compared, roads, view.pinned_kmh, frame)),
        dcc.Store(id=MOVED, data=False),
        dcc.Store(id=DUE, data=0),
        dcc.Store(id=ANSWERED, data=0),
        figure_card(
            KEY,
            TITLE,
            "A setup’s top speed is where its force comes down to the road load.",
            panels.build(compared, roads, view.pinned_kmh, frame),
            "Force, what limits it, power and currents of every setup over road speed.",
            pins(compared.job, view),
            above=html.Div(handles(view, frame), id=ids.HANDLES, className="pin-handles"),
        ),
        html.Section(
            [
                html.Div(
                    [
                        html.H2("What a little more buys"),
                        html.P(
                            "Top speed gained by one change at a time, each worked out.",
                            className="lead",
                        ),
                    ],
                    className="card-head",
                ),
                html.Div(**place(GAINS)),
                dcc.Store(id=ids.paint(GAINS), data=_gains(compared, view)),
            ],
            className="card",
            **attributes(aria_label="What a little more buys"),
        ),
    ]


def _gains(compared: Comparison, view: View) -> dict[str, Any]:
    return {GAINS: painted(numbers_table(*tables.gains(compared.shown, view.units)))}


def _fitted(compared: Comparison, view: View) -> panels.Frame:
    return panels.frame(compared.shown, view.width, view.speed, panels_chosen(view))


def _frame(
    compared: Comparison, view: View, last: float = 0.0
) -> tuple[panels.Frame, list[panels.Road]]:
    frame = _fitted(compared, view)
    if last:
        wanted = last if frame.last <= last else math.ceil(frame.last / ROOM) * ROOM
        frame = frame._replace(last=min(wanted, FARTHEST * frame.last))
    return frame, roads_of(compared, view, frame.last_kmh)


def moved(compared: Comparison, view: View, last: float = 0.0) -> dict[str, Any]:
    """What moves in the plots, for the browser to put there.

    Args:
        compared: The setups.
        view: How they are looked at.
        last: End of the axis of speed as it is drawn, to be kept if it will do.

    Returns:
        With ``stays``: whether that axis may stay when typing rests.
    """
    frame, roads = _frame(compared, view, last)
    figure = panels.build(compared, roads, view.pinned_kmh, frame)
    stays = _fitted(compared, view).last >= STAYS * frame.last
    return {**_moved(figure), "stays": stays}


def _moved(figure: dict[str, Any]) -> dict[str, Any]:
    return {"traces": panels.moving(figure["data"]), "layout": figure["layout"]}


def roads_of(compared: Comparison, view: View, last_kmh: float) -> list[panels.Road]:
    """Road-load lines: the job's own slope and the user's, once for bikes that ask the same."""
    base = compared.job.conditions.grade_percent
    grades = list(dict.fromkeys((base, *view.slopes(compared.job))))
    kmh = np.linspace(0.0, last_kmh, 80)
    asked = [r.rig.on_grade(grade) for r in compared.shown for grade in grades]
    found: list[panels.Road] = []
    for rig, force in zip(asked, road_forces(asked, kmh) if asked else (), strict=True):
        # Packs differ by a few hundred grams: one line stands for all of them.
        if not any(np.all(np.abs(force - old.force) <= 1.0 + 0.03 * old.force) for old in found):
            grade = rig.conditions.grade_percent
            name = "level road" if grade == 0 else f"{number(grade, 1).removesuffix('.0')} %"
            found.append(panels.Road(name, kmh, force))
    return found


def register(app: Dash) -> None:
    """The plots, their numbers and the gains follow the job."""
    tell(KEY, lambda compared, view: tables.over_speed(compared.shown, view.units))
    in_browser(
        app,
        "rimforceTyped",
        "due",
        Output(DUE, "data"),
        Input(ids.SESSION, "data"),
        Input(ids.VIEW, "data"),
    )
    rested = Input(ids.SETTLED, "data")
    kept = (State(ids.SESSION, "data"), State(ids.VIEW, "data"))

    @app.callback(
        Output(ids.figure(KEY), "figure"),
        Output(ids.figure(KEY), "style"),
        Output(DRAWN, "data"),
        Output(MOVED, "data"),
        Output(ids.HANDLES, "children"),
        Output(ANSWERED, "data"),
        Input(DUE, "data"),
        *kept,
        State(DRAWN, "data"),
        State(pinning.HANDLE, "value"),
        State(pinning.HANDLE, "max"),
        prevent_initial_call=True,
    )
    def draw(due: int, session: Any, view: Any, drawn: Any, at: list[Any], last: list[Any]) -> Any:
        compared, looked = read(session, view)
        frame, roads = _frame(compared, looked)
        grips = handles(looked, frame)
        figure = panels.build(compared, roads, looked.pinned_kmh, frame)
        style = {"height": f"{figure['layout']['height']}px"}
        now = figure["layout"]["meta"]["made"]
        if now != drawn:
            return figure, style, now, no_update, grips, due
        # A handle that is held must stay where it is.
        held = stand(grips, at, last)
        kept_grips = no_update if held else grips
        return no_update, style, no_update, _moved(figure), kept_grips, due

    in_browser(app, "rimforceTyped", "answered", Input(ANSWERED, "data"), first=True)
    in_browser(app, "rimforceTyped", "moved", Input(MOVED, "data"))

    @app.callback(
        Output(ids.paint(GAINS), "data"),
        Output(ids.PINS, "children"),
        Output(ids.numbers_body(KEY), "children"),
        Input(ids.numbers(KEY), "value"),
        Input({"type": "quantity", "key": ALL}, "value"),
        rested,
        *kept,
        State({"type": "pin", "kind": ALL, "unit": ALL}, "value"),
        prevent_initial_call=True,
    )
    def below(
        opened: Any,
        picked: list[str],
        _rested: int,
        session: Any,
        view: Any,
        shown: list[list[str]],
    ) -> tuple[Any, Any, Any]:
        compared, looked = read(session, view)
        lists = pins(compared.job, looked).children
        return (
            _gains(compared, looked),
            no_update if stand_as(lists, shown) else lists,
            _numbers(compared, looked, picked[0] if picked else "") if opened else no_update,
        )

    @app.callback(
        Output(ids.DOWNLOAD, "data", allow_duplicate=True),
        Input(ids.csv(KEY), "n_clicks"),
        *kept,
        prevent_initial_call=True,
    )
    def csv(clicks: Any, session: Any, view: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        compared, looked = read(session, view)
        return {
            "content": tables.as_csv(compared.shown, looked.units),
            "filename": "over-road-speed.csv",
        }

    pinning.register(app)


def _numbers(compared: Comparison, view: View, key: str) -> Any:
    lines = panels.lines_of(compared.shown)
    panel = next((p for p in lines if p.key == key), lines[0])
    choices = [{"value": p.key, "label": p.title} for p in lines]
    return [
        html.Div(
            [
                dmc.Select(
                    value=panel.key,
                    data=choices,
                    id=ids.quantity(KEY),
                    size="xs",
                    allowDeselect=False,
                    **attributes(aria_label="Quantity"),
                ),
                dmc.Button("Save all as CSV", id=ids.csv(KEY), size="xs", variant="default"),
            ],
            className="numbers-tools",
        ),
        numbers_table(*tables.by_speed(compared.shown, panel, view.speed)),
    ]


PAGE = Page("/", "Which pack?", answer, body, columns, register)
