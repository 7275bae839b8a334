"""How warm the motor gets, how much of the hill it climbs, and how far a charge goes."""

from __future__ import annotations

import math

import numpy as np

from curves.motion.heat import HillClimb
from curves.parts.labels import MAY_NOT_HOLD_IT, MAY_NOT_START
from curves.report.markup import Child, Markup, tag
from curves.report.pieces import NONE, Column, amount, given, name, names, number, section, table
from curves.report.results import Endurance, Results
from curves.units import KILOMETRE, KMH, MINUTE
from curves.words.digits import spanned
from curves.words.hill import sentence

UNKNOWN_HEAT = (
    "The job gives no heat values or no temperature limit of the motor, so nothing is said of its "
    "temperature: hold long climbs and top speed only with a thermometer on it."
)


def endurance(found: Results) -> Markup | None:
    """Heat and range, where they were asked for."""
    if found.endurance is None:
        return None
    return section(
        "How warm, and how far",
        _heat(found, found.endurance),
        _range(found, found.endurance),
        id_="endurance",
    )


def _heat(found: Results, e: Endurance) -> list[Markup]:
    settled = e.warming.settled
    if np.isnan(settled.winding_c).all():
        return [tag("p", UNKNOWN_HEAT)]
    unit = found.units.name("°C")
    columns = [
        Column("Setup"),
        Column("Winding settles at", f"{unit}, at top speed"),
        Column("Its limit", unit),
        Column("Reached after", "min, at top speed"),
        Column("Magnets settle at", f"{unit}, at top speed"),
    ]
    hill = found.job.goals.hill
    if hill is not None and e.hill is not None:
        held = number(hill.speed_kmh * KMH / found.per, 2)
        columns.append(
            Column(
                f"Longest hill of {given(hill.grade_percent)} %",
                f"{found.units.name('km')} at {held} {found.speed_unit}",
            )
        )
    rows = [_warm(found, e, k) for k in range(len(found.rigs))]
    said = None if e.hill is None else _sentences(found, e.hill)
    return [table(columns, rows, caption="Heat", kind="cards"), *([said] if said else [])]


def _warm(found: Results, e: Endurance, k: int) -> list[Child]:
    settled = e.warming.settled
    limit = found.rigs[k].motor.winding_limit_c
    cells: list[Child] = [
        name(found, k),
        tag("b", _celsius(found, float(settled.winding_c[k]))),
        NONE if limit is None else given(found.units.written(limit, "°C", 4)),
        _minutes(float(e.warming.winding_s[k])),
        _celsius(found, float(settled.case_c[k])),
    ]
    if e.hill is not None and found.job.goals.hill is not None:
        low, high = (_km(found, float(x[k])) for x in (e.hill.low, e.hill.high))
        said = f"up to {high}; {MAY_NOT_START}" if e.hill.low[k] == 0 else f"{low} to {high}"
        band = tag("span", said, class_="note") if low != high else None
        cells.append([tag("b", _km(found, float(e.hill.longest[k]))), band])
    return cells


def _sentences(found: Results, climb: HillClimb) -> Markup:
    """The hill in words, setups of which the same is said together."""
    whose: dict[str, list[int]] = {}
    for k in range(len(found.rigs)):
        whose.setdefault(sentence(climb, k, found.units), []).append(k)
    return tag(
        "ul",
        [tag("li", names(found, which), tag("br"), said) for said, which in whose.items()],
        class_="notes",
    )


def _celsius(found: Results, value: float) -> str:
    if math.isinf(value):
        return "does not settle"
    shown = found.units.shown(value, "°C")
    return number(shown, 2 if shown < 100 else 3)


def _minutes(seconds: float) -> str:
    return "never" if math.isinf(seconds) else number(seconds / MINUTE, 2)


def _km(found: Results, metres: float) -> str:
    km = metres / KILOMETRE
    return "any" if math.isinf(km) else number(found.units.shown(km, "km"), 2)


def _range(found: Results, e: Endurance) -> list[Markup]:
    goal = found.job.goals.range_km
    if np.isnan(e.range.distance).all():
        return []
    unit, far = found.speed_unit, found.units.name("km")
    speeds = e.range.speed[0] / found.per
    columns = [Column("Setup"), *(Column(f"{number(v, 2)} {unit}", far) for v in speeds)]
    rows: list[list[Child]] = []
    for k in range(len(found.rigs)):
        row: list[Child] = [name(found, k)]
        ends = zip(e.range.distance[k], e.range_band.low[k], e.range_band.high[k], strict=True)
        row += [_far(found, goal, *(float(x) / KILOMETRE for x in one)) for one in ends]
        rows.append(row)
    return [
        tag("h3", "Distance on one charge at a steady speed"),
        table(columns, rows, caption="Distance on one charge", kind="cards"),
        tag(
            "p",
            "From the setup's charge to empty, or to where the pack no longer holds the speed, on "
            "the road of the job without a stop; towns and hills take more.",
            class_="soft",
        ),
    ]


def _far(found: Results, goal: float | None, km: float, low: float, high: float) -> Child:
    if math.isnan(km):
        return tag("span", "not held", class_="soft")
    shown, low, high = (float(found.units.shown(x, "km")) for x in (km, low, high))
    said = amount(spanned(shown, low, high, none=MAY_NOT_HOLD_IT))
    if low == high:
        said = number(shown, 2)
    met = None
    if goal is not None:
        wanted = given(found.units.written(goal, "km", 4))
        met = f"meets {wanted}" if km >= goal else f"short of {wanted}"
    return [tag("b", said), tag("span", met, class_="note") if met else None]
