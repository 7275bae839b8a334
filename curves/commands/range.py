"""``range``: distance per charge at steady speeds, or what a described ride takes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated

import numpy as np
import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile, JobFile, number_list, opened_job
from curves.commands.output import Answer, give, refuse
from curves.commands.people import BANDS, ESTIMATES, NONE, digits, indented, spanned, table
from curves.motion import energy
from curves.numerics.roots import Array
from curves.parts.labels import MAY_NOT_HOLD_IT
from curves.parts.rig import Rig
from curves.studies.spread import stack_band
from curves.units import HOUR, KILOMETRE, KMH, PERCENT, WATT_HOUR

FORMAT = "rimforce-range-1"
STRETCH = 'must be stretches "km/h,percent,km" with ; between, such as "20,0,5; 15,8,0.7"'


def range_(
    job: JobFile = None,
    speeds_kmh: Annotated[
        str, typer.Option(metavar="START:STOP:STEP", help="Steady speeds, or 20,25,30.")
    ] = "15:45:5",
    full: Annotated[
        float | None,
        typer.Option(help="State of charge at the start; the setups' own if left out."),
    ] = None,
    empty: Annotated[float, typer.Option(help="State of charge at which to stop.")] = 0.0,
    ride: Annotated[
        str | None,
        typer.Option(metavar='"20,0,5; 15,8,0.7"', help="A ride: km/h, percent, km a stretch."),
    ] = None,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Distance per charge and energy per distance at steady speeds, or over a ride."""
    speeds = number_list(speeds_kmh, "--speeds-kmh")
    if np.any(speeds <= 0):
        refuse("--speeds-kmh", speeds_kmh, "must be above 0")
    for option, share in (("--full", full), ("--empty", empty)):
        if share is not None and not 0 <= share <= 1:
            refuse(option, f"{share:g}", "must be from 0 to 1")
    loaded = opened_job(job)
    rigs = loaded.rigs()
    far = energy.steady_range(rigs, speeds * KMH, full=full, empty=empty)
    ridden = None if ride is None else energy.ride(rigs, _stretches(ride))
    setups = [entry(far, ridden, speeds, k) for k in range(len(rigs))]
    answer = Answer(
        document={"format": FORMAT, "goal_km": loaded.goals.range_km, "setups": setups},
        rows=lambda: [row for setup in setups for row in _rows(setup)],
        tables=lambda: _tables(rigs, far, ridden, speeds, (full, empty), loaded.goals.range_km),
    )
    give(answer, as_json=as_json, csv_file=csv)


def _stretches(text: str) -> Array:
    rows = [number_list(part, "--ride", least=None) for part in text.split(";") if part.strip()]
    if not rows or any(row.size != 3 for row in rows):
        refuse("--ride", text, STRETCH)
    return np.array(rows) * (KMH, PERCENT, KILOMETRE)


def entry(
    far: energy.Range, ridden: energy.Ride | None, speeds_kmh: Array, k: int
) -> dict[str, object]:
    """One setup's range as the JSON gives it.

    Args:
        far: the range of all setups.
        ridden: the ride, if one was described.
        speeds_kmh: the speeds asked.
        k: which setup.
    """
    whole: dict[str, object] = {
        "name": far.names[k],
        "speed_kmh": speeds_kmh,
        "range_km": far.distance[k] / KILOMETRE,
        "time_h": far.time[k] / HOUR,
        "wh_per_km": far.wh_per_km[k],
        "cells_wh": far.energy[k] / WATT_HOUR,
        "last_state_of_charge": far.last_charge[k],
    }
    if ridden is not None:
        whole["ride"] = {
            "done": bool(ridden.done[k]),
            "speed_kmh": ridden.speed[k] / KMH,
            "held": ridden.held[k],
            "time_s": ridden.time[k],
            "energy_wh": ridden.energy[k] / WATT_HOUR,
            "cells_wh": ridden.cells[k] / WATT_HOUR,
            "state_of_charge": ridden.charge[k],
        }
    return whole


def _rows(setup: dict[str, object]) -> list[dict[str, object]]:
    columns = {key: x for key, x in setup.items() if isinstance(x, np.ndarray)}
    lines = zip(*columns.values(), strict=True)
    return [{"name": setup["name"], **dict(zip(columns, line, strict=True))} for line in lines]


def _tables(
    rigs: Sequence[Rig],
    far: energy.Range,
    ridden: energy.Ride | None,
    speeds_kmh: Array,
    charges: tuple[float | None, float],
    goal_km: float | None,
) -> Iterable[RenderableType]:
    full, empty = charges
    band = stack_band(
        rigs,
        lambda several: (
            energy.steady_range(several, speeds_kmh * KMH, full=full, empty=empty).distance
        ),
    )
    rows = [
        [
            name,
            *(
                spanned(*(x / KILOMETRE for x in kept), none=MAY_NOT_HOLD_IT)
                for kept in zip(far.distance[k], band.low[k], band.high[k], strict=True)
            ),
        ]
        for k, name in enumerate(far.names)
    ]
    title = "Distance per charge, km, at steady speed"
    yield table(("setup", *(f"{v:g} km/h" for v in speeds_kmh)), rows, title=title)
    if goal_km is not None:
        yield from (indented(_goal(far, speeds_kmh, goal_km, k)) for k in range(len(rigs)))
    if ridden is not None:
        yield _ride_table(ridden)
    if band.wide:
        yield BANDS
    yield ESTIMATES


def _goal(far: energy.Range, speeds_kmh: Array, goal_km: float, k: int) -> str:
    reached = speeds_kmh[far.distance[k] >= goal_km * KILOMETRE]
    if not reached.size:
        return f"{far.names[k]}: does not go {goal_km:g} km at any of these speeds."
    return f"{far.names[k]}: goes {goal_km:g} km at {reached.max():g} km/h."


def _ride_table(ridden: energy.Ride) -> RenderableType:
    rows = [
        [
            name,
            digits(ridden.energy[k].sum() / WATT_HOUR) if ridden.done[k] else NONE,
            digits(ridden.time[k].sum() / HOUR),
            digits(ridden.charge[k, -1], 2),
            "all" if ridden.held[k].all() else "not all" if ridden.done[k] else "does not arrive",
        ]
        for k, name in enumerate(ridden.names)
    ]
    heads = ("setup", "Wh", "h", "charge left", "speeds held")
    return table(heads, rows, title="The ride", words=2)
