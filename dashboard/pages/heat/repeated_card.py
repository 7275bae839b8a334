"""The same run again and again, with a pause between: what it does to the winding."""

from __future__ import annotations

import math
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html, set_props
from dash.exceptions import PreventUpdate

from curves.motion.runs import Repeated, repeated_runs
from curves.units import FOOT, MINUTE, Units
from dashboard.answers.setups import Comparison, read
from dashboard.base import ids
from dashboard.base.quantities import DISTANCE_RIGHT, distance
from dashboard.base.words import NONE, listed, number, with_unit
from dashboard.widgets.attributes import attributes
from dashboard.widgets.figure_card import numbers_table
from dashboard.widgets.marks import soft
from dashboard.widgets.options import wrong_number

LENGTH, PAUSE, COUNT = "repeat-length", "repeat-pause", "repeat-count"
RIDE, OUT = "repeat-ride", "repeat-out"
MOST_PAUSE_MIN, MOST_RUNS = 600, 12
EMPTY = "Press the button: it takes some seconds."


def card() -> Any:
    """What to ride, and the place of the answer."""
    controls = [
        dmc.TextInput(
            label="Length of a run, as 660 ft or 100 m", value="660 ft", id=LENGTH, size="xs"
        ),
        dmc.NumberInput(label="Pause, min", value=2, id=PAUSE, size="xs", clampBehavior="none"),
        dmc.NumberInput(label="Runs", value=6, id=COUNT, size="xs", clampBehavior="none"),
        dmc.Button("Ride them", id=RIDE, size="compact-sm", style={"alignSelf": "end"}),
    ]
    lead = "The same run from rest, again and again; the bike stands still between."
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Run after run"),
                    html.P(lead, className="lead"),
                    html.Div(controls, className="pins"),
                ],
                className="card-head",
            ),
            html.Div(soft(EMPTY), id=OUT),
        ],
        className="card",
        **attributes(aria_label="Run after run"),
    )


def answer(compared: Comparison, metres: float, pause_s: float, count: int, units: Units) -> Any:
    """Times and winding temperatures run by run, with one sentence before them.

    Args:
        compared: The setups; those shown are ridden.
        metres: Length of a run, m.
        pause_s: Between runs, s.
        count: Of runs.
        units: In which it is read.
    """
    found = repeated_runs([r.rig for r in compared.shown], metres, pause_s, count)
    head = ["Setup", *(f"Run {k + 1}, s and {units.name('°C')}" for k in range(count))]
    rows = [
        [name, *(_cell(found, k, j, units) for j in range(count))]
        for k, name in enumerate(found.names)
    ]
    caption = "Time of each run, and the winding at its end"
    return [html.P(sentence(found, compared, units)), numbers_table(head, rows, caption)]


def sentence(found: Repeated, compared: Comparison, units: Units) -> str:
    """Who gets too hot, and when; or how hot the hottest ends."""
    limits = [r.rig.motor.winding_limit_c for r in compared.shown]
    hot = [
        f"“{name}” at the end of run {over:.0f}"
        for name, over in zip(found.names, found.over_limit, strict=True)
        if math.isfinite(over)
    ]
    if hot:
        return f"Past the winding’s limit: {listed(hot)}."
    last = [(float(c[-1]), name) for c, name in zip(found.winding_c, found.names, strict=True)]
    known = [x for x in last if math.isfinite(x[0])]
    if not known:
        return "How hot the windings get is not known: the motors have no heat values."
    celsius, name = max(known)
    ends = f"the hottest is “{name}”, which ends at {with_unit(celsius, '°C', units)}."
    if None in limits:
        return f"No limit is given for every winding; {ends}"
    return f"No winding passes its limit; {ends}"


def _cell(found: Repeated, k: int, j: int, units: Units) -> str:
    if not math.isfinite(found.time[k, j]):
        return "does not get there"
    celsius = float(found.winding_c[k, j])
    warm = number(float(units.shown(celsius, "°C"))) if math.isfinite(celsius) else NONE
    return f"{number(float(found.time[k, j]), 2)}, {warm}"


def wrong(length: Any, pause: Any, count: Any) -> dict[str, str]:
    """What is wrong with each field, by its id; empty for nothing."""
    return {
        LENGTH: f"write {DISTANCE_RIGHT}" if distance(str(length)) is None else "",
        PAUSE: wrong_number(pause, 0, MOST_PAUSE_MIN),
        COUNT: wrong_number(count, 1, MOST_RUNS, whole=True),
    }


def _asked(length: Any, pause: Any, count: Any) -> tuple[float, float, int] | None:
    feet = distance(str(length))
    if feet is None or any(wrong(length, pause, count).values()):
        return None
    return feet * FOOT, float(pause) * MINUTE, int(count)


def register(app: Dash) -> None:
    """Ridden when asked; what was found goes when the job changes."""

    @app.callback(
        Output(OUT, "children"),
        Input(RIDE, "n_clicks"),
        State(LENGTH, "value"),
        State(PAUSE, "value"),
        State(COUNT, "value"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
        running=[(Output(RIDE, "loading"), True, False)],
    )
    def ride(clicks: Any, length: Any, pause: Any, count: Any, session: Any, view: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        for name, said in wrong(length, pause, count).items():
            set_props(name, {"error": said or None})
        asked = _asked(length, pause, count)
        if asked is None:
            return soft("Nothing is ridden: put right the field that says why.")
        compared, looked = read(session, view)
        if not compared.shown:
            return soft("Show a setup to ride.")
        return answer(compared, *asked, looked.units)

    @app.callback(
        Output(OUT, "children", allow_duplicate=True),
        Input(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    def forget(_session: Any) -> Any:
        return soft(EMPTY)
