"""Energy and range of the setups on the page: asks ``curves.motion.energy``, keeps its answers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curves import Rig
from curves.motion import energy
from curves.parts.labels import MAY_NOT_HOLD_IT
from curves.setups.stack import Stack
from curves.steady.balance import top_speed
from curves.studies.spread import stack_band
from curves.units import HOUR, KILOMETRE, KMH, PERCENT, WATT_HOUR, Units
from curves.words.digits import ends, is_even
from dashboard.answers.setups import Comparison, Reading, known, remembered_together
from dashboard.base.words import number
from dashboard.state.session import View
from dashboard.widgets.progress import Task

Array = NDArray[np.float64]

POINTS = 26
SLOWEST_KMH = 6.0
MOST_STRETCHES = 12
Stretch = tuple[float, float, float]
USUAL_RIDE: tuple[Stretch, ...] = ((25.0, 0.0, 5.0), (15.0, 8.0, 0.7), (25.0, 0.0, 5.0))


@dataclass(frozen=True)
class Asked:
    """What is asked: speed, km/h; states of charge; stretches of km/h, percent, km."""

    kmh: float = 25.0
    full: float = 1.0
    empty: float = 0.1
    ride: tuple[Stretch, ...] = USUAL_RIDE

    @classmethod
    def of(cls, view: View) -> Asked:
        """As the view keeps it; what cannot be read is left at its default."""
        kept = view.extra.get("range", {})
        kept = kept if isinstance(kept, dict) else {}
        usual = next((v for v in view.pinned_kmh if v > 0), cls.kmh)
        full, empty = (
            _within(kept.get("full"), 0, 1, cls.full),
            _within(kept.get("empty"), 0, 1, cls.empty),
        )
        if full <= empty:
            full, empty = cls.full, cls.empty
        rows = kept.get("ride")
        ride = tuple(filter(None, map(stretch, rows))) if isinstance(rows, list) else cls.ride
        return cls(_within(kept.get("kmh"), 1, 200, usual), full, empty, ride[:MOST_STRETCHES])

    def kept(self) -> dict[str, object]:
        """For the view to keep."""
        return {
            "kmh": self.kmh,
            "full": self.full,
            "empty": self.empty,
            "ride": [list(row) for row in self.ride],
        }


def stretch(row: Any) -> Stretch | None:
    """A stretch if it is one: km/h and km above 0, percent within 40."""
    if not isinstance(row, list | tuple) or len(row) != 3:
        return None
    if not all(isinstance(x, int | float) and math.isfinite(x) for x in row):
        return None
    kmh, percent, km = (float(x) for x in row)
    good = 0 < kmh <= 200 and abs(percent) <= 40 and 0 < km <= 1000
    return (kmh, percent, km) if good else None


@dataclass(frozen=True)
class Far:
    """How far one setup goes; NaN where a speed is not held or a capacity not given.

    Attributes:
        km: At the speed asked for.
        band: Its 5 and 95 % points, NaN where it may not hold that speed.
        wh_per_km: Drawn there, at the charge of the row.
        hours: Until empty.
        last_charge: Where it ends: the charge asked for, or where the speed is no longer held.
        kmh: Speeds up to the top, for drawing, with ``kms`` and ``whs_per_km``.
    """

    km: float
    band: tuple[float, float]
    wh_per_km: float
    hours: float
    last_charge: float
    kmh: Array
    kms: Array
    whs_per_km: Array

    def band_said(self, units: Units) -> str:
        """The band behind the distance as it is read: ``± 17``, or ``12 to 30``; empty for none."""
        km, low, high = (float(units.shown(x, "km")) for x in (self.km, *self.band))
        if low == high:
            return ""
        if is_even(km, low, high):
            return f"± {number(max((high - low) / 2, 1))}"
        return ends(low, high, MAY_NOT_HOLD_IT)

    def fastest(self, goal_km: float) -> float:
        """Highest speed at which a distance is come by, km/h, NaN for none."""
        far = np.flatnonzero(self.kms >= goal_km)
        if not far.size:
            return math.nan
        k = int(far[-1])
        if k + 1 >= self.kms.size or not math.isfinite(self.kms[k + 1]):
            return float(self.kmh[k])
        share = (self.kms[k] - goal_km) / (self.kms[k] - self.kms[k + 1])
        return float(self.kmh[k] + share * (self.kmh[k + 1] - self.kmh[k]))


@dataclass(frozen=True)
class Ridden:
    """The ride with one setup: Wh drawn, hours, charge left, whether all speeds were held."""

    wh: float
    hours: float
    charge: float
    held: bool
    done: bool


def ranges(compared: Comparison, view: View) -> list[tuple[Reading, Far]] | None:
    """The shown setups and how far they go; None where that is still to be worked out."""
    found = known(_kind(Asked.of(view)), [r.rig for r in compared.shown])
    return None if found is None else list(zip(compared.shown, found, strict=True))


def rides(compared: Comparison, view: View) -> list[tuple[Reading, Ridden]] | None:
    """The shown setups on the described ride; None as before."""
    found = known(_ride_kind(Asked.of(view)), [r.rig for r in compared.shown])
    return None if found is None else list(zip(compared.shown, found, strict=True))


def worked_out(compared: Comparison, view: View) -> bool:
    """Whether nothing is left to be worked out."""
    return ranges(compared, view) is not None and rides(compared, view) is not None


def work(compared: Comparison, view: View, _task: Task | None = None) -> None:
    """Work all of it out."""
    asked, rigs = Asked.of(view), [r.rig for r in compared.shown]
    remembered_together(_kind(asked), rigs, lambda some: _far(some, asked))
    remembered_together(_ride_kind(asked), rigs, lambda some: _ridden(some, asked))


def _within(value: Any, least: float, most: float, usual: float) -> float:
    good = isinstance(value, int | float) and least <= value <= most
    return float(value) if good else usual


def _kind(asked: Asked) -> str:
    return f"range {asked.kmh} {asked.full} {asked.empty}"


def _ride_kind(asked: Asked) -> str:
    return f"ride {asked.full} {asked.ride}"


def _far(rigs: Sequence[Rig], asked: Asked) -> list[Far]:
    top = np.nan_to_num(top_speed(rigs).speed) * 0.999
    slow = np.minimum(SLOWEST_KMH * KMH, 0.5 * top)
    # A setup that cannot start has no speeds; something above 0 stands for them.
    grid = np.linspace(np.maximum(slow, 0.1), np.maximum(top, 0.2), POINTS, axis=1)
    wanted = np.column_stack((np.full(len(rigs), asked.kmh * KMH), grid))
    far = energy.steady_range(rigs, wanted, full=asked.full, empty=asked.empty)
    used = energy.consumption(rigs, wanted)

    def distance(several: Stack) -> Array:
        one = np.array([asked.kmh * KMH])
        return energy.steady_range(several, one, full=asked.full, empty=asked.empty).distance

    band = stack_band(rigs, distance)
    low, high = (x[:, 0] / KILOMETRE for x in band)
    km = far.distance / KILOMETRE
    return [
        Far(
            float(km[k, 0]),
            (float(low[k]), float(high[k])),
            float(used.wh_per_km[k, 0]),
            float(far.time[k, 0]) / HOUR,
            float(far.last_charge[k, 0]),
            wanted[k, 1:] / KMH,
            km[k, 1:],
            used.wh_per_km[k, 1:],
        )
        for k in range(len(rigs))
    ]


def _ridden(rigs: Sequence[Rig], asked: Asked) -> list[Ridden]:
    if not asked.ride:
        return [Ridden(math.nan, math.nan, math.nan, True, False)] * len(rigs)
    table = np.array(asked.ride) * (KMH, PERCENT, KILOMETRE)
    found = energy.ride([replace(rig, state_of_charge=asked.full) for rig in rigs], table)
    return [
        Ridden(
            float(found.energy[k].sum()) / WATT_HOUR,
            float(found.time[k].sum()) / HOUR,
            float(found.charge[k, -1]),
            bool(found.held[k].all()),
            bool(found.done[k]),
        )
        for k in range(len(rigs))
    ]
