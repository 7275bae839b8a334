"""Climbing: the steepest grade held at a speed, the speed held on a grade, a start on a grade."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from curves.motion.tractive_force import push
from curves.numerics.roots import Array
from curves.parts.conditions import GRAVITY
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.steady.balance import TopSpeed, batch_top_speed
from curves.steady.envelope import draw
from curves.units import PERCENT

STEEPEST = np.pi / 2


class Climb(NamedTuple):
    """Steepest grades, as tangents (0.08 is 8 %), shape (setups, speeds).

    Negative where the bike holds the speed only downhill; NaN where the motor does not drive.

    Attributes:
        motor: What the motor, with the rider, holds.
        grip: What the driven tyre and the front wheel allow; infinite where nothing is known.
        held: The lesser of the two.
    """

    motor: Array
    grip: Array
    held: Array


def steepest_grade(rigs: Sequence[Rig] | Stack, speed: Array) -> Climb:
    """The steepest grade each setup holds at road speeds; a speed of 0 is a start on the grade.

    Args:
        rigs: The setups, or a stack of them. Their own grade is left aside.
        speed: Road speed, m/s, shape (speeds,) or (setups, speeds).
    """
    p = push(rigs if isinstance(rigs, Stack) else stack(rigs))
    b = p.batch
    v = np.broadcast_to(speed, np.broadcast_shapes(np.shape(speed), (b.size, 1)))
    level = b.road._replace(grade=np.zeros_like(b.road.grade), rolling=np.zeros_like(b.road.mass))
    air = level.force(v)
    weight = b.road.mass * GRAVITY
    motor = draw(b, v).rim_force + b.road.rider(v) - air
    by_motor = _tangent(motor / weight, b.road.rolling)
    # Grip and lift shrink with the weight across the road; what pedalling takes from them does not.
    upright = p._replace(weight=weight)
    with_rider = np.minimum(*upright.limits(v))
    idle = b._replace(road=b.road._replace(rider_w=np.zeros_like(b.road.rider_w)))
    grip = np.minimum(*upright._replace(batch=idle).limits(v))
    known = np.isfinite(grip)
    full = np.where(known, grip, 0.0)
    rest = b.road.rider(v) - np.where(known, full - with_rider, 0.0) - air
    by_grip = _tangent(rest / weight, b.road.rolling - full / weight)
    by_grip = np.where(known, by_grip, np.inf)
    held = np.where(np.isnan(by_motor), np.nan, np.minimum(by_motor, by_grip))
    return Climb(by_motor, by_grip, held)


def _tangent(force: Array, across: Array) -> Array:
    """Tangent of the angle with ``sin + across cos = force``; infinite beyond upright."""
    size = np.hypot(1.0, across)
    share = np.clip(force / size, -1.0, 1.0)
    angle = np.arcsin(share) - np.arctan(across)
    return np.where((force >= size) | (angle >= STEEPEST), np.inf, np.tan(angle))


def held_speed(rigs: Sequence[Rig], grade: float) -> TopSpeed:
    """The speed each setup holds on a grade, and what limits it there.

    Args:
        rigs: The setups.
        grade: Slope as a tangent.
    """
    steeper = [rig.on_grade(grade / PERCENT) for rig in rigs]
    return batch_top_speed(stack(steeper).batch(), tuple(r.name for r in rigs))


def chain_torque(stacked: Stack) -> Array:
    """Most torque at the motor's output, which a mid-drive passes to the chain, N m, (setups,).

    Args:
        stacked: The setups.
    """
    b = stacked.batch()
    rest = np.nan_to_num(draw(b, np.zeros((b.size, 1))).torque)
    return (rest * b.motor_efficiency)[:, 0] * stacked.of("motor.gear_ratio")
