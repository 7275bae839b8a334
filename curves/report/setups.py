"""What is compared, and what each setup comes to."""

from __future__ import annotations

import numpy as np

from curves.parts.labels import NEARLY_EMPTY
from curves.parts.rig import Rig
from curves.report.markup import Child, Markup, tag
from curves.report.pieces import (
    NONE,
    Column,
    converted,
    given,
    listed,
    name,
    number,
    section,
    signed,
    speed,
    table,
)
from curves.report.results import Results, Speed
from curves.steady.starting import starts
from curves.units import KMH

PARTS = ("motor", "controller", "pack", "tune", "bike")


def setups(found: Results) -> Markup:
    """The table that leads: every setup with its speeds, what holds it and what to look out for."""
    unit = found.speed_unit
    columns = [
        Column("Setup"),
        Column("Pack", "V full"),
        Column("Top speed", unit),
        Column("Nearly empty", f"{unit}, {NEARLY_EMPTY:.0%} left".replace("%", " %")),
    ]
    hill = found.job.goals.hill
    if hill is not None:
        columns.append(Column(f"On {given(hill.grade_percent)} %", f"{unit} held"))
    columns += [
        Column("Top speed is held by", words=True),
        Column("Look out for", "see Cautions", words=True),
    ]
    rows = [_row(found, k) for k in range(len(found.rigs))]
    return section(
        "What each setup comes to",
        table(columns, rows, caption="Setups and their speeds", kind="cards main"),
        tag("p", _below(found), class_="soft"),
        id_="setups",
    )


def _row(found: Results, k: int) -> list[Child]:
    rig = found.rigs[k]
    goals = found.job.goals
    top = None if goals.top_speed_kmh is None else goals.top_speed_kmh * KMH
    cells: list[Child] = [
        [name(found, k), tag("span", _of(found, k), class_="note")],
        [tag("b", number(found.facts[k].full_v)), _cells(rig)],
        _speed(found, found.full, k, top),
        _speed(found, found.empty, k, None),
    ]
    if found.hill is not None and goals.hill is not None:
        cells.append(_speed(found, found.hill, k, goals.hill.speed_kmh * KMH))
    worst = next((c for c in found.cautions[k] if c.severity != "reminder"), None)
    verdict = found.fits[k].verdict
    against = None if verdict == "fits" else tag("span", verdict, class_="note")
    cells += [
        listed(found.top.limited_by[k]),
        [worst.title if worst is not None else None if against else NONE, against],
    ]
    return cells


def _of(found: Results, k: int) -> str:
    """Which parts it is made of, where the job has several of the kind, and its state."""
    setup = found.job.setup[k]
    said = [
        f"{kind} {getattr(setup, kind) or 'ideal'}"
        for kind in PARTS
        if len({getattr(s, kind) for s in found.job.setup}) > 1
    ]
    if setup.state_of_charge != 1.0 and found.rigs[k].pack.from_cells:
        said.append(f"{setup.state_of_charge:.0%} charge".replace("%", " %"))
    for what in ("winding", "magnet"):
        celsius = getattr(setup, f"{what}_c")
        if celsius != 20.0:
            said.append(f"{what} at {converted(found, celsius, '°C')}")
    if k == found.reference:
        said.append("differences are to this one")
    return ", ".join(said)


def _cells(rig: Rig) -> list[Markup]:
    pack = rig.pack
    said = [f"{pack.series} in series", f"{pack.parallel} parallel"]
    lines = said if pack.from_cells else ["as a source"]
    return [tag("span", line, class_="note") for line in lines]


def _speed(found: Results, of: Speed, k: int, goal: float | None) -> Child:
    value = float(of.value[k])
    if not starts(value):
        return tag("b", "cannot start")
    parts: list[Child] = [tag("b", speed(found, of, k))]
    r = found.reference
    if r is not None and r != k and np.isfinite(of.value[r]):
        apart = value - of.value[r]
        parts.append(tag("span", difference(found, float(apart)), class_="note"))
    if goal is not None:
        met = value >= goal * (1 - 1e-9)
        wanted = _wanted(found, goal / KMH)
        parts.append(tag("span", f"meets {wanted}" if met else f"short of {wanted}", class_="note"))
    return parts


def difference(found: Results, apart: float) -> str:
    """A difference of speeds in the unit shown; those under a twentieth of it are none."""
    value = apart / found.per
    places = 1 if abs(value) < 9.95 else 0
    return signed(value, places) if round(value, places) else "the same"


def _wanted(found: Results, kmh: float) -> str:
    return given(round(kmh * KMH / found.per, 1))


def _below(found: Results) -> str:
    goals = found.job.goals
    unit = found.speed_unit
    wanted = []
    if goals.top_speed_kmh is not None:
        wanted.append(f"{_wanted(found, goals.top_speed_kmh)} {unit}")
    if goals.hill is not None:
        hill = goals.hill
        wanted.append(
            f"{given(hill.grade_percent)} % over {given(hill.length_m)} m at "
            f"{_wanted(found, hill.speed_kmh)} {unit}"
        )
    if goals.range_km is not None:
        wanted.append(f"{converted(found, goals.range_km, 'km')} on one charge")
    said = f"Wanted: {'; '.join(wanted)}. " if wanted else ""
    c = found.job.conditions
    road = "Level road" if c.grade_percent == 0 else f"Grade {given(c.grade_percent)} %"
    blows = f"headwind {converted(found, c.headwind_kmh, 'km/h')}"
    wind = "still air" if c.headwind_kmh == 0 else blows
    air = converted(found, c.air_c, "°C")
    said += f"{road}, {wind}, {air}, {given(c.altitude_m)} m above the sea."
    return said
