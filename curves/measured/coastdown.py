"""Road load from coasting down: ``F = f0 + f1 v + f2 (v ± w)|v ± w| ± slope`` in standard air.

Runs in both directions tell the road from wind and slope: what changes sign with the direction is
not the bike's. Wind along the road and slope are fitted along, one of each for all runs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from curves.measured.estimate import Estimate
from curves.measured.readings import Bench
from curves.measured.regression import Regression, regress
from curves.measured.rolling import STANDARD_DENSITY, Rolled, coasting_speed, interval_time
from curves.measured.seen import Series
from curves.numerics.roots import Array, Index
from curves.parts.conditions import GRAVITY, air_density
from curves.parts.reading import refuse
from curves.units import KMH

FEWEST: Final = 6
"""Samples below which a log is no coast-down."""
LEAST_SPEED: Final = 0.01
"""m/s; standard deviation of noise below which none is believed."""
TIME_S: Final = 0.02
"""Standard deviation of a timed interval below which none is believed."""
WINDY: Final = 3.0
"""m/s of wind along the road past which coast-downs are not to be trusted (common practice)."""

Direction = Literal["out", "back"]


@dataclass(frozen=True)
class Stretch:
    """A coast-down from a log.

    Attributes:
        name: For people.
        direction: Which way along the road.
        time: s, rising, shape (samples,).
        speed: m/s, shape (samples,).
    """

    name: str
    direction: Direction
    time: Array
    speed: Array


@dataclass(frozen=True)
class Coast:
    """Road load from coast-downs.

    Attributes:
        values: f0 in N, f1 in N/(m/s), f2 in N/(m/s)², in standard air, shape (3,).
        uncertainty: Standard uncertainties, shape (3,).
        wind: Along the road, m/s, against those who ride out; NaN where it cannot be told.
        grade: Slope as a tangent, up for those who ride out; NaN where it cannot be told.
        rolling_coefficient: f0 over weight.
        drag_area: m².
        readings: Intervals or samples it rests on.
        warnings: What should be looked at again.
        regression: Everything else.
    """

    values: Array
    uncertainty: Array
    wind: float
    grade: float
    rolling_coefficient: float
    drag_area: float
    readings: int
    warnings: tuple[str, ...]
    regression: Regression

    def estimates(self) -> dict[str, Estimate]:
        """The coefficients under the names of ``road_load_n``."""
        how = "coast-down, corrected to air of 1.204 kg/m³"
        return {
            f"road_load_n_f{k}": Estimate(
                float(self.values[k]), float(self.uncertainty[k]), self.readings, how
            )
            for k in range(3)
            if self.uncertainty[k] > 0
        }

    @property
    def rolling_uncertainty(self) -> float:
        """Standard uncertainty of ``rolling_coefficient``."""
        share = self.rolling_coefficient / self.values[0] if self.values[0] > 0 else 0.0
        return float(share * self.uncertainty[0])

    @property
    def area_uncertainty(self) -> float:
        """Standard uncertainty of ``drag_area``, m²."""
        return float(2 * self.uncertainty[2] / STANDARD_DENSITY)


def from_times(
    bench: Bench, *, dragged: tuple[float, float] = (0.0, 0.0), linear: bool = False
) -> Coast:
    """Road load from stop-watch times between speeds.

    Args:
        bench: readings with ``coast_down`` and ``coast_bike``.
        dragged: rim force of a motor that turns along, N, and its growth with speed, N/(m/s).
        linear: whether f1 is found too; else it is 0.

    Raises:
        JobError: if there are too few of them.
    """
    rows, bike = bench.coast_down, bench.coast_bike
    if bike is None or len(rows) < 2:
        refuse("coast_down", "needs at least two timed intervals, and [coast_bike]")
    density = float(air_density(bike.altitude_m, bike.air_c))
    rolled = Rolled(bike.mass_kg, bike.rotating_share, density, dragged)
    high = np.array([row.from_kmh for row in rows]) * KMH
    low = np.array([row.to_kmh for row in rows]) * KMH
    sign = np.array([1.0 if row.direction == "out" else -1.0 for row in rows])
    seconds = np.array([row.seconds for row in rows])
    series = Series("times", np.arange(seconds.size, dtype=float), seconds, TIME_S, remembers=False)

    def predict(sets: Array) -> list[Array]:
        return [interval_time(sets, rolled, high, low, sign)]

    force = rolled.inertia * float(np.mean((high - low) / seconds))
    return _found(_Free.of(sign, linear), [series], predict, rolled, force, high, low)


def from_logs(stretches: Sequence[Stretch], rolled: Rolled, *, linear: bool = False) -> Coast:
    """Road load from logged coast-downs.

    Args:
        stretches: each from its highest speed to its lowest, drive off and feet still.
        rolled: what rolled, and in what air.
        linear: whether f1 is found too; else it is 0.

    Raises:
        JobError: if there are none, or one has too few samples.
    """
    if not stretches:
        refuse("coast-down", "needs at least one run")
    for one in stretches:
        if one.time.size < FEWEST:
            refuse(one.name, f"has {one.time.size} samples: a coast-down needs more")
    series = [Series(s.name, s.time - s.time[0], s.speed, LEAST_SPEED) for s in stretches]
    sign = np.array([1.0 if one.direction == "out" else -1.0 for one in stretches])
    first = np.array([float(np.median(one.speed[:3])) for one in stretches])
    last = np.array([float(np.median(one.speed[-3:])) for one in stretches])
    ends = np.array([one.time[-1] for one in series])

    def predict(sets: Array) -> list[Array]:
        return [
            coasting_speed(sets[:, :5], sets[:, 5 + k], rolled, float(sign[k]), one.time)
            for k, one in enumerate(series)
        ]

    force = rolled.inertia * float(np.mean((first - last) / ends))
    return _found(_Free.of(sign, linear), series, predict, rolled, force, first, last, first)


@dataclass(frozen=True)
class _Free:
    """Which of f0, f1, f2, wind and slope are found; the others are 0."""

    which: Index
    both_ways: bool

    @classmethod
    def of(cls, sign: Array, linear: bool) -> _Free:
        both = bool(np.any(sign > 0) and np.any(sign < 0))
        return cls(np.flatnonzero((True, linear, True, both, both)), both)


def _found(
    free: _Free,
    series: Sequence[Series],
    predict: Callable[[Array], list[Array]],
    rolled: Rolled,
    force: float,
    high: Array,
    low: Array,
    begin: Array | None = None,
) -> Coast:
    """Fit what is free, with a speed of its own at the beginning of each logged run."""
    runs = np.zeros(0) if begin is None else begin
    fastest, which = float(high.max()), free.which
    scale = np.array((force, force / fastest, force / fastest**2, 2.0, 0.005))
    lower = np.array((0.0, 0.0, 0.0, -15.0, -0.1))
    upper = np.array((20 * scale[0], 20 * scale[1], 20 * scale[2], 15.0, 0.1))
    start = np.array((0.5, 0.0, 0.5, 0.0, 0.0)) * scale

    def whole(sets: Array) -> list[Array]:
        full = np.zeros((len(sets), 5 + runs.size))
        full[:, which] = sets[:, : which.size]
        full[:, 5:] = sets[:, which.size :]
        return predict(full)

    found = regress(
        series,
        whole,
        np.concatenate((start[which], runs)),
        lower=np.concatenate((lower[which], runs - 3.0)),
        upper=np.concatenate((upper[which], runs + 3.0)),
        scale=np.concatenate((scale[which] / 5, np.full(runs.size, 0.1))),
    )
    values, uncertainty = np.zeros(5), np.zeros(5)
    values[which], uncertainty[which] = (x[: which.size] for x in (found.values, found.uncertainty))
    count = sum(one.time.size for one in series)
    wind, grade = values[3:] if free.both_ways else (np.nan, np.nan)
    coast = Coast(
        values=values[:3],
        uncertainty=uncertainty[:3],
        wind=float(wind),
        grade=float(grade),
        rolling_coefficient=float(values[0] / (rolled.mass * GRAVITY)),
        drag_area=float(2 * values[2] / STANDARD_DENSITY),
        readings=count,
        warnings=(),
        regression=found,
    )
    return replace(coast, warnings=tuple(_warnings(coast, which.size, high, low)))


def _warnings(coast: Coast, unknowns: int, high: Array, low: Array) -> list[str]:
    said = []
    if np.isnan(coast.wind):
        said.append(
            "All runs went one way: wind and slope stand in the result as if they were the bike's. "
            "Ride back as often as out."
        )
    elif abs(coast.wind) > WINDY:
        said.append(
            f"The wind along the road was about {abs(coast.wind):.1f} m/s: gusts of such a wind "
            "are in the result too. Wait for a calm day."
        )
    if coast.readings < unknowns + 2:
        said.append(
            f"{coast.readings} times for {unknowns} unknowns leave nothing to check by: time more "
            "intervals, high and low ones."
        )
    if high.max() < 2 * low.min():
        said.append(
            "The speeds span less than two to one: what stays and what grows with speed can hardly "
            "be told apart. Roll from faster to slower."
        )
    said += [
        f"f{k} is known to {u / v:.0%} only."
        for k, (v, u) in enumerate(zip(coast.values, coast.uncertainty, strict=True))
        if v > 0 and u > 0.25 * v
    ]
    return said
