"""What comes of it: top speeds with what would move them, and timed runs."""

from __future__ import annotations

import math

from curves.parts.labels import MAY_NOT_GET_THERE
from curves.parts.tune import basis_factor
from curves.report.markup import Child, Markup, tag
from curves.report.pieces import (
    NONE,
    Column,
    amount,
    given,
    listed,
    name,
    number,
    section,
    signed,
    speed,
    table,
)
from curves.report.results import Results
from curves.steady.starting import starts
from curves.studies.levers import WORTH, Lever, telling
from curves.units import FOOT, MPH
from curves.words.digits import spanned


def top_speeds(found: Results) -> Markup:
    """Top speed of every setup, what holds it there, and what a little more of each buys."""
    unit = found.speed_unit
    levers = telling(found.gained, found.units)
    columns = [
        Column("Setup"),
        Column("Top speed", unit),
        Column("Held by", words=True),
        *(Column(x.change[:1].upper() + x.change[1:]) for x in levers),
    ]
    rows: list[list[Child]] = [
        [
            name(found, k),
            tag("b", _top(found, k)),
            listed(found.top.limited_by[k]),
            *(_gain(found, lever, k) for lever in levers),
        ]
        for k in range(len(found.rigs))
    ]
    lead = (
        f"The last columns say how many {unit} one change at a time would add. “Nothing” "
        "means that more of it is no help: something else holds the bike back."
    )
    if any(basis_factor(rig.tune.current_basis) != 1 for rig in found.rigs):
        lead += " Phase and weakening amperes are counted as the tune counts them, peak or rms."
    return section(
        "Top speed, and what would move it",
        table(columns, rows, caption="Top speed and what would move it", kind="cards"),
        id_="top-speed",
        lead=lead,
    )


def _top(found: Results, k: int) -> str:
    value = float(found.full.value[k])
    return speed(found, found.full, k) if starts(value) else "cannot start"


def _gain(found: Results, lever: Lever, k: int) -> Child:
    value = found.units.change(found.gained[k][lever.name], "km/h")
    if math.isnan(value):
        return NONE
    if abs(value) < WORTH:
        return tag("span", "nothing", class_="soft")
    return signed(value, 1 if abs(value) >= 1 else 2)


def timed(found: Results) -> Markup:
    """Splits of a run from a standing start."""
    runs, unit = found.runs, found.speed_unit
    columns = [Column("Setup")]
    columns += [
        Column(
            f"To {given(round(v / MPH, 1))} mph",
            f"{number(v / found.per)} km/h" if unit != "mph" else "",
        )
        for v in runs.targets.speeds
    ]
    columns += [Column(*_distance(x)) for x in runs.targets.distances]
    rows: list[list[Child]] = []
    for k in range(len(found.rigs)):
        row: list[Child] = [name(found, k)]
        count = len(runs.targets.speeds)
        row += [_split(found, runs.speed_time[k, j], k, j) for j in range(count)]
        row += [
            [
                _split(found, runs.distance_time[k, j], k, count + j),
                _at(found, float(runs.distance_speed[k, j])),
            ]
            for j in range(len(runs.targets.distances))
        ]
        rows.append(row)
    missed = [
        tag("li", tag("bdi", found.rigs[k].name), ": ", " ".join(runs.notes[k]))
        for k in range(len(found.rigs))
        if not starts(runs.end_speed[k])
    ]
    return section(
        "From a standing start",
        table(columns, rows, caption="Times of runs, seconds", kind="cards"),
        tag("ul", missed, class_="notes") if missed else None,
        id_="runs",
        lead=(
            "Seconds at full throttle on the road and in the air of the job; the rider's reaction "
            "is left out. Charge and temperatures move as it goes."
        ),
    )


def _distance(metres: float) -> tuple[str, str]:
    """What people call a distance, and its metres."""
    names = {60 * FOOT: "60 ft", 660 * FOOT: "1/8 mile", 1320 * FOOT: "1/4 mile"}
    said = next((n for x, n in names.items() if math.isclose(x, metres)), "")
    return (said, f"{number(metres)} m") if said else (f"{number(metres)} m", "")


def _split(found: Results, seconds: float, k: int, j: int) -> Child:
    if not math.isfinite(seconds):
        return tag("span", "not reached", class_="soft")
    low, high = float(found.runs_band.low[k, j]), float(found.runs_band.high[k, j])
    if low == high:
        return tag("b", amount(f"{seconds:z.1f}"))
    return tag("b", amount(spanned(seconds, low, high, none=MAY_NOT_GET_THERE)))


def _at(found: Results, speed_there: float) -> Child:
    if not math.isfinite(speed_there):
        return None
    said = f"at {number(speed_there / found.per)} {found.speed_unit}"
    return tag("span", said, class_="note")
