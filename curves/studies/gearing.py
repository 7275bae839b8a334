"""Gearing and wheel: the reduction or the wheel that is fastest, and the one that is quickest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal, TypeAlias

import numpy as np

from curves.balance import balance_speed, batch_top_speed
from curves.climb import steepest_grade
from curves.envelope import no_load_speed
from curves.errors import JobError, Problem
from curves.parts.rig import Rig
from curves.roots import Array
from curves.runs import Targets, timed_runs
from curves.stack import Stack, stack
from curves.studies.common import Running, running
from curves.units import KMH

Changed: TypeAlias = Literal["reduction", "wheel"]
"""What changes: rotor turns a wheel turn in the tallest gear, or the wheel's roll-out in metres."""

GOOD_KMH = 0.1
"""Top speeds this close to the best are as good."""
GOOD_SHARE = 0.005
"""Times this close to the best, relative, are as good."""
_Good: TypeAlias = Callable[[float], float]
ZOOM, ZOOMS, EDGES = 17, 6, 3
"""Trials in a stretch, and how often the stretch about the best of them is looked at again; each
time it shrinks to an eighth. The ends of what is as good are found in three such looks."""


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
) -> GearSweep:
    """A setup with other reductions or wheels.

    A bike with several gears keeps the steps between them.

    Args:
        rig: The setup.
        values: Rotor turns a wheel turn in the tallest gear, or roll-outs in metres; rising.
        changed: Which of the two.
        targets: Splits to time.
        climb_speed: Road speed at which the steepest grade is wanted, m/s.

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

    def speed_of(x: Array) -> Array:
        return _speed(_with(base, changed, x))

    def hurry(k: int, x: Array) -> Array:
        return -_time(_with(base, changed, x), asked, k)

    times = np.concatenate((runs.speed_time, runs.distance_time), axis=1)
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
        fastest=_best(trials, top.speed, speed_of, lambda _: GOOD_KMH * KMH),
        quickest=tuple(
            _negated(_best(trials, -times[:, k], partial(hurry, k), lambda y: GOOD_SHARE * -y))
            for k in range(times.shape[1])
        ),
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


def _time(setups: Stack, targets: Targets, k: int) -> Array:
    speeds = len(targets.speeds)
    one = (
        Targets((targets.speeds[k],), (), targets.roll_out)
        if k < speeds
        else Targets((), (targets.distances[k - speeds],), targets.roll_out)
    )
    runs = timed_runs(setups, one)
    times: Array = (runs.speed_time if k < speeds else runs.distance_time)[:, 0]
    return times


def _best(trials: Array, found: Array, f: Callable[[Array], Array], good: _Good) -> Best:
    """The highest value of ``f``, by looking ever closer about the best trial.

    One peak is taken for granted between the neighbours of the best trial.
    """
    if np.isnan(found).all():
        return Best(np.nan, np.nan, np.nan, np.nan)
    x, y = trials, found
    for _ in range(ZOOMS):
        k = int(np.nanargmax(y))
        low, high = x[max(k - 1, 0)], x[min(k + 1, x.size - 1)]
        x = np.unique(np.append(np.linspace(low, high, ZOOM), x[k]))
        y = f(x)
    k = int(np.nanargmax(y))
    value, best = float(x[k]), float(y[k])
    least = best - good(best)
    poor = ~(found >= least)
    ends = []
    for side in (trials < value, trials > value):
        # The nearest trial that is not as good, or the last there is.
        beyond = trials[side & poor]
        if beyond.size:
            nearest = float(beyond[np.argmin(np.abs(beyond - value))])
            ends.append(_edge(f, value, nearest, least))
        else:
            ends.append(float(max(trials[side], key=lambda t: abs(t - value), default=value)))
    return Best(value, best, ends[0], ends[1])


def _edge(f: Callable[[Array], Array], inside: float, outside: float, least: float) -> float:
    """Where ``f`` falls below ``least`` on the way from ``inside`` to ``outside``."""
    for _ in range(EDGES):
        x = np.linspace(inside, outside, ZOOM)
        poor = ~(f(x[1:-1]) >= least)
        k = int(np.argmax(np.append(poor, True)))
        inside, outside = float(x[k]), float(x[k + 1])
    return inside


def _negated(best: Best) -> Best:
    return Best(best.value, -best.result, best.low, best.high)


def sentence(sweep: GearSweep) -> str:
    """The answer in plain sentences with its numbers."""
    best = sweep.fastest
    if np.isnan(best.value):
        return f"{sweep.name} cannot start with any of them."
    what, unit = ("reduction", "") if sweep.changed == "reduction" else ("roll-out", " m")
    end = _at_end(sweep, best)
    text = (
        f"The fastest {what} is {best.value:.3g}{unit}{end}: {best.result / KMH:.1f} km/h; from "
        f"{best.low:.3g} to {best.high:.3g}{unit} is as good. Now it is {sweep.present:.3g}{unit}."
    )
    speeds = [f"{speed / KMH:.0f} km/h" for speed in sweep.targets.speeds]
    distances = [f"{distance:.0f} m" for distance in sweep.targets.distances]
    for goal, found in zip((*speeds, *distances), sweep.quickest, strict=True):
        if not np.isnan(found.value):
            text += (
                f" Quickest to {goal}: {found.value:.3g}{unit}{_at_end(sweep, found)}, "
                f"{found.result:.1f} s."
            )
    return text


def _at_end(sweep: GearSweep, best: Best) -> str:
    at = best.value in (sweep.value[0], sweep.value[-1])
    return " (the end of the range)" if at else ""
