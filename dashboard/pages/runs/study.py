"""Timed runs of the setups on the page: asks ``curves.motion.runs``, and keeps what it answered."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from curves import Rig
from curves.motion.runs import RUN_WORDS, Targets, held_back, same_pack_power, timed_runs
from curves.setups.stack import Stack, stack
from curves.studies.spread import stack_band
from curves.units import FOOT, KMH
from dashboard.answers.setups import Comparison, Reading, remembered_together
from dashboard.base.quantities import MOST_FT, MOST_KMH
from dashboard.state.session import View

Array = NDArray[np.float64]

GRID_KMH = np.linspace(1.0, 120.0, 120)
GRID_M = np.concatenate((np.linspace(1.0, 20.0, 12), np.linspace(25.0, 450.0, 60)))
ROLL_OUT_M = 1 * FOOT
MOST_W = 1e6


@dataclass(frozen=True)
class Asked:
    """What is timed: speeds, km/h; distances, ft; after a roll-out; at equal pack power.

    ``watts`` is that power, W; None for the lowest of the setups' own ceilings.
    """

    speeds_kmh: tuple[float, ...] = (32.18688, 48.28032)
    distances_ft: tuple[float, ...] = (60.0, 660.0)
    roll_out: bool = False
    equal: bool = False
    watts: float | None = None

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
            numbers("speeds", cls.speeds_kmh, MOST_KMH),
            numbers("distances", cls.distances_ft, MOST_FT),
            kept.get("roll_out") is True,
            kept.get("equal") is True,
            next(iter(numbers("watts", (), MOST_W)), None),
        )

    def kept(self) -> dict[str, object]:
        """For the view to keep."""
        return {
            "speeds": list(self.speeds_kmh),
            "distances": list(self.distances_ft),
            "roll_out": self.roll_out,
            "equal": self.equal,
            "watts": [] if self.watts is None else [self.watts],
        }


@dataclass(frozen=True)
class Run:
    """One setup's run; NaN where a target is never reached.

    Attributes:
        speed_time: s to each speed asked for.
        distance_time: s to each distance.
        band: 5 and 95 % points of both, shape (2, targets); NaN where it may not get there.
        distance_kmh: Speed there.
        trap_kmh: Mean speed over the last 66 ft before it.
        time: s along the run, for drawing, with ``kmh``, ``metres`` and ``force``, N at the rim.
        held: What holds that force at each time, in words.
        end_kmh: What the run tends to; NaN where the bike cannot start.
        notes: What it does not reach, in sentences.
    """

    speed_time: Array
    distance_time: Array
    band: Array
    distance_kmh: Array
    trap_kmh: Array
    time: Array
    kmh: Array
    metres: Array
    force: Array
    held: tuple[tuple[str, ...], ...]
    end_kmh: float
    notes: tuple[str, ...]


def ridden(compared: Comparison, view: View) -> list[tuple[Reading, Run]]:
    """The shown setups with their runs, at equal pack power where that is asked."""
    asked = Asked.of(view)
    capped = iter(_capped(compared, asked)) if asked.equal else iter(())
    rigs = [next(capped, r.rig) if starts(r) else r.rig for r in compared.shown]
    return _ridden(compared, rigs, asked)


def ridden_freely(compared: Comparison, view: View) -> list[tuple[Reading, Run]]:
    """The shown setups with the runs that their own tunes give."""
    return _ridden(compared, [r.rig for r in compared.shown], Asked.of(view))


def shared_watts(compared: Comparison, view: View) -> float:
    """The pack power that all are held to, W; NaN where none starts."""
    rigs = _capped(compared, Asked.of(view))
    return float(rigs[0].tune.power_cap_w or math.nan) if rigs else math.nan


def starts(reading: Reading) -> bool:
    """Whether a setup moves at all; one that does not has no say in the power shared."""
    return reading.curve.starts


def _capped(compared: Comparison, asked: Asked) -> Sequence[Rig]:
    """Those that start, at the same pack power."""
    return same_pack_power([r.rig for r in compared.shown if starts(r)], asked.watts)


def _ridden(compared: Comparison, rigs: Sequence[Rig], asked: Asked) -> list[tuple[Reading, Run]]:
    timed = replace(asked, equal=False, watts=None)
    found = remembered_together(f"runs {timed}", rigs, lambda some: _runs(some, timed))
    return list(zip(compared.shown, found, strict=True))


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

    band = np.stack(stack_band(rigs, times))
    every = np.concatenate((along.speed_time, along.distance_time), axis=1)
    fast = np.concatenate((np.tile(GRID_KMH, (len(rigs), 1)), along.distance_speed / KMH), axis=1)
    far = np.concatenate((along.speed_distance, np.tile(GRID_M, (len(rigs), 1))), axis=1)
    force, bound = held_back(stack(rigs), every, np.where(np.isfinite(every), fast * KMH, np.nan))
    made = []
    for k in range(len(rigs)):
        time = every[k]
        order = np.argsort(time)
        order = order[np.isfinite(time[order]) & (time[order] >= 0)]
        made.append(
            Run(
                found.speed_time[k],
                found.distance_time[k],
                band[:, k],
                found.distance_speed[k] / KMH,
                found.trap_speed[k] / KMH,
                time[order],
                fast[k, order],
                far[k, order],
                force[k, order],
                tuple(_words(held) for held in bound[k, order]),
                float(found.end_speed[k]) / KMH,
                found.notes[k],
            )
        )
    return made


def _words(held: NDArray[np.bool_]) -> tuple[str, ...]:
    return tuple(word for word, holds in zip(RUN_WORDS, held, strict=True) if holds)
