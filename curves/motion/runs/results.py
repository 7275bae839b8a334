"""What is asked of a timed run, and what comes back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array
from curves.point.gains import LIMIT_WORDS
from curves.steady.starting import starts
from curves.units import FOOT, KMH, MPH

TRAP_M = 66 * FOOT
"""Length of the speed trap before the line (drag-strip convention)."""

RUN_WORDS = (*LIMIT_WORDS, "grip", "front wheel lift", "torque rise")
"""What can hold a run back at an instant, in the order in which results list it."""


@dataclass(frozen=True)
class Targets:
    """What a run is timed to; SI.

    Attributes:
        speeds: Road speeds, m/s, each above 0.
        distances: From where the bike stood, m, each above 0.
        roll_out: Distance at which the clock starts, m; 0 starts it as the torque is asked for.
            The rider's reaction is left out either way. Distances still count from where the bike
            stood, as on a strip where the start beam lets go after the first foot.
    """

    speeds: tuple[float, ...] = (20 * MPH, 30 * MPH)
    distances: tuple[float, ...] = (60 * FOOT, 660 * FOOT, 1320 * FOOT)
    roll_out: float = 0.0

    def __post_init__(self) -> None:
        wrong = [x for x in (*self.speeds, *self.distances) if not 0 < x < np.inf]
        if wrong or not 0 <= self.roll_out < np.inf:
            raise ValueError("speeds and distances must be above 0 and the roll-out at least 0")


@dataclass(frozen=True)
class Trace:
    """Runs over time; arrays of shape (setups, times), SI.

    Attributes:
        time: From the start, shape (times,).
        speed: m/s.
        distance: m.
        rim_force: Of the motor, N.
        road_force: N.
        bound: Which of ``RUN_WORDS`` hold the force, shape (setups, times, words).
        charge: State of charge, 0 to 1; NaN where it is not followed.
        winding_c: °C.
        case_c: °C.
    """

    time: Array
    speed: Array
    distance: Array
    rim_force: Array
    road_force: Array
    bound: NDArray[np.bool_]
    charge: Array
    winding_c: Array
    case_c: Array


@dataclass(frozen=True)
class Runs:
    """Splits of timed runs; arrays of shape (setups, targets), NaN where never reached.

    Attributes:
        names: Name of each setup.
        targets: What was asked.
        speed_time: s to each speed.
        speed_distance: m from where the bike stood to each speed.
        distance_time: s to each distance.
        distance_speed: m/s at each distance.
        trap_speed: Mean speed over the last 66 ft before each distance, m/s; NaN where the
            distance is shorter.
        end_speed: What the run tends to, m/s, shape (setups,); NaN where the bike does not start.
        notes: For each setup, a sentence on each target it does not reach.
    """

    names: tuple[str, ...]
    targets: Targets
    speed_time: Array
    speed_distance: Array
    distance_time: Array
    distance_speed: Array
    trap_speed: Array
    end_speed: Array
    notes: tuple[tuple[str, ...], ...]


def with_trap(distances: tuple[float, ...]) -> Array:
    """The distances, followed by where the trap before each begins (NaN where it cannot)."""
    at = np.array(distances, dtype=np.float64)
    return np.concatenate((at, np.where(at >= TRAP_M, at - TRAP_M, np.nan)))


def trap_speed(time: Array) -> Array:
    """Mean speed in the trap, m/s, from times at ``with_trap`` distances."""
    count = time.shape[1] // 2
    return TRAP_M / (time[:, :count] - time[:, count:])


def sentences(targets: Targets, end_speed: float, at_rest: float, runs: Array) -> tuple[str, ...]:
    """Why a setup's targets are not reached, in words.

    Args:
        targets: What was asked.
        end_speed: What the run tends to, m/s; NaN where it does not start.
        at_rest: Force to spare at rest, N.
        runs: Times to the speeds and distances in that order, s.
    """
    if not starts(end_speed):
        lack = f": its force is {-at_rest:z.0f} N short of the road load" if at_rest < 0 else ""
        return (f"The bike cannot start here{lack}.",)
    missed = np.isnan(runs)
    said = [
        f"It never reaches {v / KMH:z.1f} km/h ({v / MPH:z.1f} mph): it tends to "
        f"{end_speed / KMH:z.1f} km/h."
        for v, never in zip(targets.speeds, missed, strict=False)
        if never
    ]
    said += [
        f"It does not get as far as {x:z.0f} m."
        for x, never in zip(targets.distances, missed[len(targets.speeds) :], strict=True)
        if never
    ]
    return tuple(said)
