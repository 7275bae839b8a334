"""Runs over time, for plots: the force at every instant and what holds it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from curves.motion.runs.coupled import CoupledRuns
from curves.motion.runs.motion import STATES
from curves.motion.runs.results import Trace
from curves.motion.state import at_state, rows
from curves.motion.tractive_force import Push, push
from curves.numerics.roots import Array
from curves.point.gains import gains
from curves.setups.stack import Stack


def trace(stacked: Stack, ridden: CoupledRuns, times: Array) -> Trace:
    """What moved the setups at given times of their ride.

    Args:
        stacked: The setups, as they were ridden.
        ridden: What ``coupled_runs`` returned for them.
        times: s from the start, shape (times,); later than the ride counts as its end.
    """
    ride = ridden.ride
    y = ride.states(np.minimum(times, ride.time[-1]))
    setups, count = y.shape[1:]
    each = rows(stacked, np.repeat(np.arange(setups), count))
    state = dict(zip(STATES, y.reshape(len(STATES), -1), strict=True))
    p = push(each, at_state(each, state["charge"], state["winding_c"], state["case_c"]))
    still = np.repeat(_at_rest(stacked), count)
    v = np.maximum(state["speed"], 0.0)[:, None]
    force, bound = _held_back(p, each, v, np.tile(times, setups)[:, None], still)
    shape = (setups, count)
    dead = np.isnan(ridden.runs.end_speed)[:, None]

    def plane(x: Array) -> Array:
        return np.where(dead, np.nan, x.reshape(shape))

    followed = ~np.isnan(ridden.charge)[:, None]
    return Trace(
        time=times,
        speed=plane(v),
        distance=plane(state["distance"]),
        rim_force=plane(force),
        road_force=plane(p.batch.road.force(v)),
        bound=bound.reshape(*shape, -1) & ~dead[..., None],
        charge=np.where(followed, plane(state["charge"]), np.nan),
        winding_c=plane(state["winding_c"]),
        case_c=plane(state["case_c"]),
    )


def held_back(stacked: Stack, time: Array, speed: Array) -> tuple[Array, NDArray[np.bool_]]:
    """What moves setups along a run with their state held, and what holds that force.

    Args:
        stacked: The setups.
        time: s from the start, shape (setups, points).
        speed: m/s there, same shape; NaN for no point.

    Returns:
        Rim force of the motor, N, same shape; and which of ``RUN_WORDS`` hold it, shape (setups,
        points, words).
    """
    v = np.nan_to_num(speed)
    force, bound = _held_back(push(stacked), stacked, v, time, _at_rest(stacked))
    none = np.isnan(speed)
    return np.where(none, np.nan, force), bound & ~none[..., None]


def _held_back(
    p: Push, s: Stack, v: Array, now: Array, at_rest: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """Rim force, and what holds it, of setups at speeds, (setups, points)."""
    force, drawn = p.motor(v)
    rise = s.of("controller.torque_rise_s")[:, None]
    still = at_rest[:, None]
    risen = np.where(rise > now, still * now / np.where(rise > 0, rise, 1.0), np.inf)
    grip, lift = p.limits(v)
    motor = np.minimum(force, risen)
    less = motor < drawn.rim_force
    limited = gains(p.batch.drive, drawn.rotor_speed, drawn.point).limited
    # At a ceiling on speed the motor gives no more than holds it.
    capped = drawn.over.any(axis=-1) & ~np.isnan(drawn.rim_force)
    needed = np.maximum(p.batch.road.force(v) - p.batch.road.rider(v), 0.0)
    motor = np.where(capped, np.minimum(motor, needed), motor)
    limited &= ~capped[..., None]
    bound = np.concatenate((limited, drawn.over), axis=-1) & ~less[..., None]
    others = [less & (motor == x) for x in (grip, lift, risen)]
    return motor, np.concatenate((bound, np.stack(others, axis=-1)), axis=-1)


def _at_rest(stacked: Stack) -> Array:
    """Rim force at rest, N, shape (setups,)."""
    force = push(stacked).motor(np.zeros((len(stacked.names), 1)))[1].rim_force
    return np.nan_to_num(force[:, 0])
