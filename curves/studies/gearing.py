"""Gearing and wheel: the reduction or the wheel that is fastest, and the one that is quickest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from curves.errors import JobError, Problem
from curves.motion.climb import steepest_grade
from curves.motion.runs import Runs, Targets, timed_runs
from curves.numerics.roots import Array, Index
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.steady.balance import balance_speed, batch_top_speed
from curves.steady.envelope import no_load_speed
from curves.studies.common import Progress, Running, quietly, running
from curves.units import KMH

Changed: TypeAlias = Literal["reduction", "wheel"]
"""What changes: rotor turns a wheel turn in the tallest gear, or the wheel's roll-out in metres."""

GOOD_KMH = 0.1
"""Top speeds this close to the best are as good."""
GOOD_SHARE = 0.005
"""Times this close to the best, relative, are as good."""
ZOOM, ZOOMS, EDGES = 17, 5, 2
"""Trials in a stretch, and how often the stretch about the best of them is looked at again; each
time it shrinks to an eighth. The ends of what is as good are found in two such looks."""
LOOKS = 1 + ZOOMS + EDGES


@dataclass(frozen=True)
class Best:
    """The best value of what changes, and the stretch about it that is as good.

    Attributes:
        value: The best; NaN where the bike cannot start or never gets there.
        result: Top speed, m/s, or time, s, with it.
        low: Lower end of the values that are as good.
        high: Upper end of them.
    """

    value: float
    result: float
    low: float
    high: float


@dataclass(frozen=True)
class GearSweep:
    """A setup over its reduction or wheel. SI, arrays (values,); NaN where it does not apply.

    Attributes:
        name: The setup.
        changed: What changed.
        value: Its values: a ratio, or a roll-out in metres.
        present: The setup's own value.
        top_speed: m/s.
        limited_by: Words of each.
        running: Losses and currents at top speed.
        targets: Splits that were timed.
        speed_time: s, shape (values, speeds timed).
        distance_time: s, shape (values, distances timed).
        climb_speed: Road speed of ``grade``, m/s.
        grade: Steepest grade held at that speed, tangent.
        fastest: The value with the highest top speed.
        quickest: The value with the least time to each split, speeds first.
    """

    name: str
    changed: Changed
    value: Array
    present: float
    top_speed: Array
    limited_by: tuple[tuple[str, ...], ...]
    running: Running
    targets: Targets
    speed_time: Array
    distance_time: Array
    climb_speed: float
    grade: Array
    fastest: Best
    quickest: tuple[Best, ...]


def gear_sweep(
    rig: Rig,
    values: Sequence[float],
    *,
    changed: Changed = "reduction",
    targets: Targets | None = None,
    climb_speed: float = 15 * KMH,
    progress: Progress = quietly,
) -> GearSweep:
    """A setup with other reductions or wheels.

    A bike with several gears keeps the steps between them.

    Args:
        rig: The setup.
        values: Rotor turns a wheel turn in the tallest gear, or roll-outs in metres; rising.
        changed: Which of the two.
        targets: Splits to time.
        climb_speed: Road speed at which the steepest grade is wanted, m/s.
        progress: Told steps done and how many there are; what it raises ends the sweep.

    Raises:
        JobError: if the values do not rise from above 0.
    """
    trials = np.asarray(values, dtype=np.float64)
    if trials.size < 2 or np.any(np.diff(trials) <= 0) or trials[0] <= 0:
        raise JobError([Problem(changed, f"{list(values)}", "must be two or more, rising from 0")])
    asked = targets or Targets()
    base = stack([rig])
    every = _with(base, changed, trials)
    batch = every.batch()
    top = batch_top_speed(batch, every.names)
    runs = timed_runs(every, asked)

    steps = iter(range(1, LOOKS))

    def scores(x: Array) -> Array:
        progress(next(steps), LOOKS)
        some = _with(base, changed, x)
        return _scores(_speed(some), timed_runs(some, asked))

    fastest, *quickest = _best(trials, _scores(top.speed, runs), scores)
    return GearSweep(
        name=rig.name,
        changed=changed,
        value=trials,
        present=_present(base, changed),
        top_speed=top.speed,
        limited_by=top.limited_by,
        running=running(batch, top.speed),
        targets=asked,
        speed_time=runs.speed_time,
        distance_time=runs.distance_time,
        climb_speed=climb_speed,
        grade=steepest_grade(every, np.array([climb_speed])).held[:, 0],
        fastest=fastest,
        quickest=tuple(Best(x.value, -x.result, x.low, x.high) for x in quickest),
    )


def _with(base: Stack, changed: Changed, values: Array) -> Stack:
    if changed == "wheel":
        return base.vary({"bike.circumference_m": values})
    # The motor's own gears carry the change, so that the steps between a bike's gears stay.
    own = base.of("motor.gear_ratio")
    return base.vary({"motor.gear_ratio": own * values / _present(base, changed)})


def _present(base: Stack, changed: Changed) -> float:
    if changed == "wheel":
        return float(base.values["bike.circumference_m"][0])
    return float(base.of("motor.gear_ratio")[0] * base.ratios[0, 0])


def _speed(setups: Stack) -> Array:
    b = setups.batch()
    return balance_speed(b, no_load_speed(b)).speed


def _scores(speed: Array, runs: Runs) -> Array:
    """What is to be highest, shape (values, 1 + splits): top speed, and the times below 0."""
    return np.column_stack((speed, -runs.speed_time, -runs.distance_time))


def _best(trials: Array, found: Array, f: Callable[[Array], Array]) -> list[Best]:
    """The highest of every column of ``f``, by looking ever closer about the best trials.

    One peak is taken for granted between the neighbours of the best trial. All columns are looked
    at together, for a few setups take as long as many.
    """
    columns = np.flatnonzero(~np.isnan(found).all(axis=0))
    none = Best(np.nan, np.nan, np.nan, np.nan)
    if not columns.size:
        return [none] * found.shape[1]
    x, y = np.tile(trials, (columns.size, 1)), found[:, columns].T
    for _ in range(ZOOMS):
        x = _closer(x, y)
        y = _own(f, x, columns)
    each = np.arange(columns.size)
    top = np.nanargmax(y, axis=1)
    value, best = x[each, top], y[each, top]
    least = best - np.where(columns == 0, GOOD_KMH * KMH, GOOD_SHARE * np.abs(best))
    poor = ~(least[:, None] <= found[:, columns].T)
    low, high = _edges(trials, value, poor, least, lambda at: _own(f, at, columns))
    rows = {int(c): k for k, c in enumerate(columns)}
    return [
        Best(*(float(v[rows[c]]) for v in (value, best, low, high))) if c in rows else none
        for c in range(found.shape[1])
    ]


def _own(f: Callable[[Array], Array], x: Array, columns: Index) -> Array:
    """Each row of ``x`` by its own column of ``f``, shape (columns, values)."""
    every = f(x.ravel()).reshape(*x.shape, -1)
    return np.take_along_axis(every, columns[:, None, None], axis=2)[..., 0]


def _closer(x: Array, y: Array) -> Array:
    """Trials between the neighbours of the best of each row, itself among them."""
    rows, last = np.arange(x.shape[0]), x.shape[1] - 1
    k = np.nanargmax(y, axis=1)
    low, mid, high = (x[rows, at] for at in (np.maximum(k - 1, 0), k, np.minimum(k + 1, last)))
    half = ZOOM // 2 + 1
    parts = np.linspace(low, mid, half, axis=1)[:, :-1], np.linspace(mid, high, half, axis=1)
    at_end = (low == mid) | (mid == high)
    return np.where(at_end[:, None], np.linspace(low, high, ZOOM, axis=1), np.hstack(parts))


def _edges(
    trials: Array,
    value: Array,
    poor: NDArray[np.bool_],
    least: Array,
    f: Callable[[Array], Array],
) -> tuple[Array, Array]:
    """Where each row of ``f`` falls below ``least`` on either side of ``value``."""
    inside = np.stack((value, value), axis=1)
    outside = np.empty_like(inside)
    for k, x in enumerate(value):
        # The nearest trial that is not as good, or the last there is.
        below, above = trials[poor[k] & (trials < x)], trials[poor[k] & (trials > x)]
        outside[k] = below[-1] if below.size else np.nan, above[0] if above.size else np.nan
    ends = np.isnan(outside)
    outside = np.where(ends, inside, outside)
    for _ in range(EDGES):
        x = np.linspace(inside, outside, ZOOM, axis=2)
        good = f(x.reshape(value.size, -1)).reshape(x.shape) >= least[:, None, None]
        good[..., 0], good[..., -1] = True, False
        k = np.argmin(good, axis=2)[..., None]
        inside = np.take_along_axis(x, k - 1, axis=2)[..., 0]
        outside = np.take_along_axis(x, k, axis=2)[..., 0]
    inside = np.where(ends, (trials[0], trials[-1]), inside)
    return np.minimum(inside[:, 0], value), np.maximum(inside[:, 1], value)
