"""``top-speed``: how fast each setup is, what limits it there, and what more of each would buy."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from rich.console import RenderableType

from curves import balance
from curves.commands.options import AsJson, CsvFile, JobFile
from curves.commands.output import Answer, give
from curves.commands.people import BANDS, ESTIMATES, banded, digits, listed, table, within
from curves.parts.job import load_job
from curves.parts.rig import Rig
from curves.roots import Array
from curves.studies.spread import spread
from curves.units import KMH

FORMAT = "rimforce-top-speed-1"
COLUMNS = (
    "setup",
    "top km/h",
    "base km/h",
    "no load km/h",
    "EMF, drive off, V",
    "pack V",
    "limited by",
    "what one more buys",
)
WORTH_KMH = 0.005
"""A gain below this is not worth a word."""
BOUGHT = {
    "kmh_per_series_cell": "cell in series",
    "kmh_per_pack_a": "pack A",
    "kmh_per_phase_a": "phase A",
    "kmh_per_weakening_a": "weakening A",
    "kmh_per_w": "W",
}
"""What one more of can be had in the tune or the pack, as people say it."""


def top_speed(job: JobFile = None, as_json: AsJson = False, csv: CsvFile = None) -> None:
    """Top speed, what limits it there, and what more of each input would buy."""
    rigs = load_job(job).rigs()
    top = balance.top_speed(rigs)
    answer = Answer(
        document={"format": FORMAT, "setups": [entry(top, k) for k in range(len(top.names))]},
        rows=lambda: [_row(entry(top, k), top, k) for k in range(len(top.names))],
        tables=lambda: _tables(rigs, top),
    )
    give(answer, as_json=as_json, csv_file=csv)


def entry(top: balance.TopSpeed, k: int) -> dict[str, object]:
    """One setup's top speed as the JSON gives it.

    Args:
        top: the top speeds of all setups.
        k: which setup.
    """
    return {
        "name": top.names[k],
        "top_speed_kmh": top.speed[k] / KMH,
        "limited_by": list(top.limited_by[k]),
        "gain_per_unit": {unit: gain[k] for unit, gain in top.gain.items()},
        "base_speed_kmh": top.base_speed[k] / KMH,
        "no_load_speed_kmh": top.no_load_speed[k] / KMH,
        "drive_off_emf_v": top.drive_off_emf_v[k],
        "pack_voltage_v": top.pack_voltage[k],
    }


def _row(whole: dict[str, object], top: balance.TopSpeed, k: int) -> dict[str, object]:
    gains = {unit: gain[k] for unit, gain in top.gain.items()}
    return {key: value for key, value in whole.items() if key != "gain_per_unit"} | gains


def _tables(rigs: Sequence[Rig], top: balance.TopSpeed) -> Iterable[RenderableType]:
    unsure = spread(rigs, lambda batch: columns(balance.batch_top_speed(batch, ("",) * batch.size)))
    rows = [
        [
            name,
            "cannot start" if np.isnan(top.speed[k]) else banded(shown[0], sure[0]),
            *(within(value, by) for value, by in zip(shown[1:], sure[1:], strict=True)),
            listed(top.limited_by[k]),
            _bought(top, k),
        ]
        for k, (name, shown, sure) in enumerate(zip(top.names, columns(top), unsure, strict=True))
    ]
    yield table(COLUMNS, rows, words=3)
    if np.any(unsure > 0):
        yield BANDS
    yield ESTIMATES


def columns(top: balance.TopSpeed) -> Array:
    """The numbers of the table, shape (setups, columns)."""
    speeds = (top.speed / KMH, top.base_speed / KMH, top.no_load_speed / KMH)
    return np.column_stack((*speeds, top.drive_off_emf_v, top.pack_voltage))


def _bought(top: balance.TopSpeed, k: int) -> str:
    """What a little more of each limit would add, the most useful steps only."""
    steps = {unit: 100.0 if unit == "kmh_per_w" else 1.0 for unit in BOUGHT}
    gains = {unit: top.gain[unit][k] * step for unit, step in steps.items()}
    return listed(
        f"{steps[unit]:g} {BOUGHT[unit]}: +{digits(gain, 2)} km/h"
        for unit, gain in gains.items()
        if gain >= WORTH_KMH
    )
