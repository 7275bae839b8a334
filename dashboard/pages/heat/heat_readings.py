"""Heat values made surer: a winding read after a hill that was ridden, or its resistance."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from curves.motion.heat import Improved, Reading, improved_heat
from curves.parts.heating import HEAT_FIELDS, winding_temperature
from curves.parts.job import build_job
from curves.parts.notes import own
from curves.units import KMH, MINUTE, PERCENT, Units
from dashboard.answers.setups import Comparison, read
from dashboard.base import ids
from dashboard.base.words import with_unit
from dashboard.pages.heat.study import chosen
from dashboard.state.session import Session, View
from dashboard.widgets.attributes import attributes
from dashboard.widgets.marks import soft

PLACE, UNIT, IMPROVE, SAID = "heat-readings", "heat-readings-unit", "heat-improve", "heat-improved"
FIELDS = ("speed", "grade", "minutes", "start", "end", "cold", "hot")
LACKS = "Give speed, grade, minutes and the start, then the winding at the end or both resistances."


def card(units: Units) -> Any:
    """What was ridden and read."""
    lead = (
        "Ride a hill at a steady speed and read the winding right after: with a sensor, or by the "
        "resistance between two leads before and after. It is taken for the setup on the map."
    )
    return html.Section(
        [
            html.Div(
                [html.H2("Make the heat values surer"), html.P(lead, className="lead")],
                className="card-head",
            ),
            dcc.Store(id=UNIT, data=units.name("°C") + units.name("km/h")),
            html.Div(_fields(units), className="pins", id=PLACE, style={"marginLeft": 0}),
            dmc.Button("Improve the motor’s heat values", id=IMPROVE, size="compact-sm", mt=12),
            html.Div(id=SAID, style={"marginTop": "10px"}, **attributes(aria_live="polite")),
        ],
        className="card",
        **attributes(aria_label="Make the heat values surer"),
    )


def _fields(units: Units) -> list[Any]:
    warm = units.name("°C")
    labels = (
        f"Speed held, {units.name('km/h')}",
        "Grade, %",
        "For, min",
        f"Motor at the start, {warm}",
        f"Winding at the end, {warm}",
        "or resistance at the start, Ω",
        "and right after, Ω",
    )
    return [
        dmc.NumberInput(label=label, id=_id(field), size="xs", style={"flex": "1 1 110px"})
        for field, label in zip(FIELDS, labels, strict=True)
    ]


def _id(field: str) -> str:
    return f"heat-read-{field}"


def reading_of(typed: dict[str, Any], units: Units) -> Reading | None:
    """What was typed as a reading, None where something lacks.

    Args:
        typed: Numbers by the names in ``FIELDS``; anything else for those left out.
        units: In which they were typed.
    """
    given = {name: float(x) for name, x in typed.items() if isinstance(x, int | float)}
    if not {"speed", "grade", "minutes", "start"} <= given.keys():
        return None
    start = float(units.typed(given["start"], "°C"))
    if {"cold", "hot"} <= given.keys() and given["cold"] > 0:
        end = float(winding_temperature(given["cold"], start, given["hot"]))
    elif "end" in given:
        end = float(units.typed(given["end"], "°C"))
    else:
        return None
    speed = float(units.typed(given["speed"], "km/h")) * KMH
    if not (speed > 0 and given["minutes"] > 0):
        return None
    return Reading(speed, given["grade"] * PERCENT, given["minutes"] * MINUTE, end, start)


def improve(compared: Comparison, view: View, reading: Reading) -> tuple[Session, Improved]:
    """The session with the motor's heat values as a reading makes them.

    Args:
        compared: The setups.
        view: Says which of them was ridden.
        reading: What was read.

    Raises:
        ValueError: if there is no setup, its motor has no heat values to begin with, or the values
            found are not ones a job may have.
    """
    ridden = chosen(compared, view)
    if ridden is None:
        raise ValueError("show the setup that was ridden")
    found = improved_heat(ridden.rig, [reading])
    session = compared.session
    name = session.job.setup[session.index(ridden.slot)].motor
    tree = session.job.tree()
    table = tree["motor"][name]
    table.update({field: getattr(found.motor, field) for field in HEAT_FIELDS})
    for notes in ("sources", "tolerance"):
        new = {field: getattr(found.motor, notes)[field] for field in HEAT_FIELDS}
        table[notes] = {**table.get(notes, {}), **new}
    return replace(session, job=build_job(own(tree), name="job")), found


def _told(found: Improved, reading: Reading, units: Units) -> str:
    before, after, read = (
        with_unit(float(c), "°C", units)
        for c in (found.before_c[0], found.after_c[0], reading.winding_c)
    )
    return (
        f"Read: {read}. Foretold before: {before}, with the new values: {after}. The motor’s five "
        "heat values and their tolerances are changed; undo takes that back."
    )


def register(app: Dash) -> None:
    """The button improves; the fields follow the units."""

    @app.callback(
        Output(SAID, "children"),
        Output(ids.SESSION, "data", allow_duplicate=True),
        Input(IMPROVE, "n_clicks"),
        *(State(_id(field), "value") for field in FIELDS),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
        running=[(Output(IMPROVE, "loading"), True, False)],
    )
    def improved(clicks: Any, *given: Any) -> tuple[Any, Any]:
        if not clicks:
            raise PreventUpdate
        *values, session, data = given
        compared, view = read(session, data)
        reading = reading_of(dict(zip(FIELDS, values, strict=True)), view.units)
        if reading is None:
            return soft(LACKS), no_update
        try:
            new, found = improve(compared, view, reading)
        except ValueError as problem:
            return soft(str(problem)), no_update
        return _told(found, reading, view.units), new.data()

    @app.callback(
        Output(PLACE, "children"),
        Output(UNIT, "data"),
        Input(ids.VIEW, "data"),
        State(UNIT, "data"),
        prevent_initial_call=True,
    )
    def unit(data: Any, shown: Any) -> Any:
        units = View.parse(data).units
        now = units.name("°C") + units.name("km/h")
        if now == shown:
            raise PreventUpdate
        return _fields(units), now
