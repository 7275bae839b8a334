"""Timed runs of the setups on the page: asks ``curves.runs``, and keeps what it answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves import Rig
from curves.digits import BAND
from curves.runs import Targets, same_pack_power, timed_runs
from curves.stack import Stack
from curves.studies.spread import stack_spread
from curves.units import FOOT, KMH
from dashboard.results import Comparison, Reading, remembered_together
from dashboard.state import View

Array = NDArray[np.float64]

GRID_KMH = np.linspace(1.0, 120.0, 120)
GRID_M = np.concatenate((np.linspace(1.0, 20.0, 12), np.linspace(25.0, 450.0, 60)))
ROLL_OUT_M = 1 * FOOT


@dataclass(frozen=True)
class Asked:
    """What is timed: speeds, km/h; distances, ft; after a roll-out; at equal pack power."""

    speeds_kmh: tuple[float, ...] = (32.18688, 48.28032)
    distances_ft: tuple[float, ...] = (60.0, 660.0)
    roll_out: bool = False
    equal: bool = False

    @classmethod
    def of(cls, view: View) -> Asked:
        """As the view keeps it; what cannot be read is left at its default."""
        kept = view.extra.get("runs", {})
        kept = kept if isinstance(kept, dict) else {}

        def numbers(name: str, usual: tuple[float, ...], most: float) -> tuple[float, ...]:
            found = kept.get(name)
            if not isinstance(found, list):
                return usual
            good = [float(x) for x in found if isinstance(x, int | float) and 0 < x <= most]
            return tuple(sorted(set(good)))[:5]

        return cls(
            numbers("speeds", cls.speeds_kmh, 300.0),
            numbers("distances", cls.distances_ft, 5280.0),
            kept.get("roll_out") is True,
            kept.get("equal") is True,
        )

    def kept(self) -> dict[str, object]:
        """For the view to keep."""
        return {
            "speeds": list(self.speeds_kmh),
            "distances": list(self.distances_ft),
            "roll_out": self.roll_out,
            "equal": self.equal,
        }


@dataclass(frozen=True)
class Run:
    """One setup's run; NaN where a target is never reached.

    Attributes:
        speed_time: s to each speed asked for, with ``speed_band`` half the band from 5 to 95 %.
        distance_time: s to each distance, with ``distance_band``.
        distance_kmh: Speed there.
        trap_kmh: Mean speed over the last 66 ft before it.
        time: s along the run, for drawing, with ``kmh`` and ``metres``.
        notes: What it does not reach, in sentences.
    """

    speed_time: Array
    speed_band: Array
    distance_time: Array
    distance_band: Array
    distance_kmh: Array
    trap_kmh: Array
    time: Array
    kmh: Array
    metres: Array
    notes: tuple[str, ...]


def ridden(compared: Comparison, view: View) -> list[tuple[Reading, Run]]:
    """The shown setups with their runs."""
    asked, readings = Asked.of(view), compared.shown
    rigs: Sequence[Rig] = [r.rig for r in readings]
    if asked.equal and rigs:
        rigs = same_pack_power(rigs)
    found = remembered_together(f"runs {asked}", rigs, lambda some: _runs(some, asked))
    return list(zip(readings, found, strict=True))


def _runs(rigs: Sequence[Rig], asked: Asked) -> list[Run]:
    roll_out = ROLL_OUT_M if asked.roll_out else 0.0
    speeds = tuple(v * KMH for v in asked.speeds_kmh)
    distances = tuple(x * FOOT for x in asked.distances_ft)
    wanted = Targets(speeds, distances, roll_out)
    found = timed_runs(rigs, wanted)
    along = timed_runs(rigs, Targets(tuple(GRID_KMH * KMH), tuple(GRID_M), roll_out))

    def times(several: Stack) -> Array:
        one = timed_runs(several, wanted)
        return np.concatenate((one.speed_time, one.distance_time), axis=1)

    band = BAND * stack_spread(rigs, times)
    made = []
    for k in range(len(rigs)):
        time = np.concatenate((along.speed_time[k], along.distance_time[k]))
        kmh = np.concatenate((GRID_KMH, along.distance_speed[k] / KMH))
        metres = np.concatenate((along.speed_distance[k], GRID_M))
        order = np.argsort(time)
        order = order[np.isfinite(time[order]) & (time[order] >= 0)]
        made.append(
            Run(
                found.speed_time[k],
                band[k, : len(speeds)],
                found.distance_time[k],
                band[k, len(speeds) :],
                found.distance_speed[k] / KMH,
                found.trap_speed[k] / KMH,
                time[order],
                kmh[order],
                metres[order],
                found.notes[k],
            )
        )
    return made
