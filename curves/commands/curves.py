"""``curves``: the envelope of every setup over road speed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Annotated

import numpy as np
import typer
from rich.console import RenderableType

from curves.balance import TopSpeed, batch_top_speed
from curves.commands.options import AsJson, CsvFile, JobFile, number_list
from curves.commands.output import Answer, give
from curves.commands.people import ESTIMATES, digits, listed, table
from curves.envelope import Envelope, batch_envelope, words
from curves.parts.job import load_job
from curves.roots import Array
from curves.stack import stack
from curves.units import KMH, RPM

FORMAT = "rimforce-curves-1"
MOST_LINES = 24
"""Lines of a table for people; a program asks for JSON or CSV."""
HEADINGS = (
    "km/h",
    "rim force N",
    "road load N",
    "rim W",
    "pack W",
    "pack V",
    "pack A",
    "phase A peak",
    "limited by",
)


def curves(
    job: JobFile = None,
    speeds_kmh: Annotated[
        str,
        typer.Option(metavar="START:STOP:STEP", help="Road speeds, stop included; or 20,25,30."),
    ] = "0:80:1",
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Force, power and currents of every setup over road speed, and what limits them."""
    speeds = number_list(speeds_kmh, "--speeds-kmh")
    rigs = load_job(job).rigs()
    batch, names = stack(rigs).batch(), tuple(rig.name for rig in rigs)
    curve, top = batch_envelope(batch, names, speeds * KMH), batch_top_speed(batch, names)
    setups = [entry(curve, top, speeds, k) for k in range(len(names))]
    answer = Answer(
        document={"format": FORMAT, "setups": setups},
        rows=lambda: [row for setup in setups for row in _rows(setup)],
        tables=lambda: _tables(curve, top, speeds),
    )
    give(answer, as_json=as_json, csv_file=csv)


def entry(curve: Envelope, top: TopSpeed, speeds_kmh: Array, k: int) -> dict[str, object]:
    """One setup's envelope as the JSON gives it.

    Args:
        curve: the envelope of all setups.
        top: their top speeds.
        speeds_kmh: the road speeds as the user wrote them, km/h, shape (speeds,).
        k: which setup.
    """
    return {
        "name": curve.names[k],
        "speed_kmh": speeds_kmh,
        "rotor_rpm": curve.rotor_speed[k] / RPM,
        "torque_nm": curve.torque[k],
        "rim_force_n": curve.rim_force[k],
        "road_force_n": curve.road_force[k],
        "shaft_power_w": curve.shaft_power[k],
        "pack_power_w": curve.pack_power[k],
        "pack_voltage_v": curve.pack_voltage[k],
        "pack_current_a": curve.pack_current[k],
        "phase_current_a": curve.phase_current[k],
        "current_d_a": curve.current_d[k],
        "current_q_a": curve.current_q[k],
        "efficiency": curve.efficiency[k],
        "limited_by": [words(limited) for limited in curve.limited[k]],
        "base_speed_kmh": curve.base_speed[k] / KMH,
        "no_load_speed_kmh": curve.no_load_speed[k] / KMH,
        "top_speed_kmh": top.speed[k] / KMH,
        "top_speed_limited_by": list(top.limited_by[k]),
    }


def _rows(setup: dict[str, object]) -> Iterator[dict[str, object]]:
    """A line a speed: the columns of the JSON that have a value a speed."""
    columns = {name: list(x) for name, x in setup.items() if isinstance(x, np.ndarray | list)}
    del columns["top_speed_limited_by"]
    for k in range(len(columns["speed_kmh"])):
        yield {"setup": setup["name"], **{name: column[k] for name, column in columns.items()}}


def _tables(curve: Envelope, top: TopSpeed, speeds: Array) -> Iterable[RenderableType]:
    every = max(1, math.ceil(speeds.size / MOST_LINES))
    shown = range(0, speeds.size, every)
    for k, name in enumerate(curve.names):
        columns = (
            speeds,
            curve.rim_force[k],
            curve.road_force[k],
            curve.rim_power[k],
            curve.pack_power[k],
            curve.pack_voltage[k],
            curve.pack_current[k],
            curve.phase_current[k],
        )
        rows = [
            [*(digits(column[j]) for column in columns), listed(words(curve.limited[k, j]))]
            for j in shown
        ]
        yield table(HEADINGS, rows, title=name, words=2)
        yield _summary(curve, top, k)
        yield ""
    if every > 1:
        yield f"Every {every}th speed is shown; --csv and --json give all {speeds.size}."
    yield ESTIMATES


def _summary(curve: Envelope, top: TopSpeed, k: int) -> str:
    base, none = (digits(x[k] / KMH) for x in (curve.base_speed, curve.no_load_speed))
    if np.isnan(top.speed[k]):
        return f"Cannot start. Base speed {base}, no load {none} km/h."
    return (
        f"Top speed {digits(top.speed[k] / KMH)} km/h, limited by {listed(top.limited_by[k])}; "
        f"base speed {base}, no load {none} km/h."
    )
