"""``curves``: the envelope of every setup over road speed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Annotated

import numpy as np
import typer
from rich.console import RenderableType

from curves.balance import TopSpeed, batch_top_speed
from curves.commands.options import AsJson, CsvFile, JobFile, number_list
from curves.commands.output import Answer, give
from curves.commands.people import BANDS, ESTIMATES, banded, digits, listed, table, within
from curves.commands.top_speed import columns as top_columns
from curves.envelope import Envelope, batch_envelope, words
from curves.envelope_braking import BrakingEnvelope, batch_braking, braking_words
from curves.parts.job import load_job
from curves.parts.rig import Rig
from curves.roots import Array
from curves.stack import stack
from curves.studies.spread import spread
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
BRAKING_HEADINGS = ("km/h", "rim force N", "pack W", "pack A", "phase A peak", "limited by")


def curves(
    job: JobFile = None,
    speeds_kmh: Annotated[
        str,
        typer.Option(metavar="START:STOP:STEP", help="Road speeds, stop included; or 20,25,30."),
    ] = "0:80:1",
    braking: Annotated[
        bool, typer.Option("--braking", help="The strongest electrical braking as well.")
    ] = False,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Force, power and currents of every setup over road speed, and what limits them."""
    speeds = number_list(speeds_kmh, "--speeds-kmh")
    rigs = load_job(job).rigs()
    batch, names = stack(rigs).batch(), tuple(rig.name for rig in rigs)
    curve, top = batch_envelope(batch, names, speeds * KMH), batch_top_speed(batch, names)
    setups = [entry(curve, top, speeds, k) for k in range(len(names))]
    brakes = batch_braking(batch, names, speeds * KMH) if braking else None
    if brakes is not None:
        setups = [x | {"braking": braking_entry(brakes, k)} for k, x in enumerate(setups)]
    answer = Answer(
        document={"format": FORMAT, "setups": setups},
        rows=lambda: [row for setup in setups for row in _rows(setup)],
        tables=lambda: _tables(rigs, curve, top, speeds, brakes),
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


def braking_entry(brakes: BrakingEnvelope, k: int) -> dict[str, object]:
    """One setup's braking as the JSON gives it; null where the controller cannot hold it.

    Args:
        brakes: the braking of all setups.
        k: which setup.
    """
    return {
        "torque_nm": brakes.torque[k],
        "rim_force_n": brakes.rim_force[k],
        "pack_power_w": brakes.pack_power[k],
        "pack_voltage_v": brakes.pack_voltage[k],
        "pack_current_a": brakes.pack_current[k],
        "phase_current_a": brakes.phase_current[k],
        "current_d_a": brakes.current_d[k],
        "current_q_a": brakes.current_q[k],
        "limited_by": [braking_words(limited) for limited in brakes.limited[k]],
    }


def _rows(setup: dict[str, object]) -> Iterator[dict[str, object]]:
    """A line a speed: the columns of the JSON that have a value a speed."""
    columns = {name: list(x) for name, x in setup.items() if isinstance(x, np.ndarray | list)}
    del columns["top_speed_limited_by"]
    brakes = setup.get("braking", {})
    if isinstance(brakes, dict):
        columns |= {f"braking_{name}": list(x) for name, x in brakes.items()}
    for k in range(len(columns["speed_kmh"])):
        yield {"setup": setup["name"], **{name: column[k] for name, column in columns.items()}}


def _tables(
    rigs: Sequence[Rig],
    curve: Envelope,
    top: TopSpeed,
    speeds: Array,
    brakes: BrakingEnvelope | None,
) -> Iterable[RenderableType]:
    every = max(1, math.ceil(speeds.size / MOST_LINES))
    shown = speeds[::every]
    few = _columns(curve)[:, ::every]
    sure_top = spread(rigs, lambda b: top_columns(batch_top_speed(b, ("",) * b.size)))
    sure = spread(rigs, lambda b: _columns(batch_envelope(b, ("",) * b.size, shown * KMH)))
    for k, name in enumerate(curve.names):
        rows = [
            [
                f"{speed:g}",
                *map(within, few[k, j], sure[k, j]),
                listed(words(curve.limited[k, j * every])),
            ]
            for j, speed in enumerate(shown)
        ]
        yield table(HEADINGS, rows, title=name, words=2)
        yield _summary(top, sure_top, k)
        if brakes is not None:
            yield _braking_table(brakes, speeds, k, every)
        yield ""
    if np.any(sure_top > 0):
        yield BANDS
    if every > 1:
        yield f"Every {every}th speed is shown; --csv and --json give all {speeds.size}."
    yield ESTIMATES


def _braking_table(brakes: BrakingEnvelope, speeds: Array, k: int, every: int) -> RenderableType:
    columns = (brakes.rim_force, brakes.pack_power, brakes.pack_current, brakes.phase_current)
    rows = [
        [
            f"{speeds[j]:g}",
            *(digits(x[k, j]) for x in columns),
            listed(braking_words(brakes.limited[k, j])),
        ]
        for j in range(0, speeds.size, every)
    ]
    return table(BRAKING_HEADINGS, rows, title=f"{brakes.names[k]}, braking", words=2)


def _columns(curve: Envelope) -> Array:
    """The numbers of the tables, shape (setups, speeds, columns)."""
    return np.stack(
        (
            curve.rim_force,
            curve.road_force,
            curve.rim_power,
            curve.pack_power,
            curve.pack_voltage,
            curve.pack_current,
            curve.phase_current,
        ),
        axis=-1,
    )


def _summary(top: TopSpeed, sure: Array, k: int) -> str:
    speed, base, none = top_columns(top)[k, :3]
    rest = f"Base speed {within(base, sure[k, 1])}, no load {within(none, sure[k, 2])} km/h."
    if np.isnan(speed):
        return f"Cannot start. {rest}"
    limits = listed(top.limited_by[k])
    return f"Top speed {banded(speed, sure[k, 0])} km/h, limited by {limits}. {rest}"
