"""What moves a setup at a road speed: the motor within grip and lift, the rider, the road load."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from curves.numerics.roots import Array, Index
from curves.parts.conditions import GRAVITY
from curves.parts.traction import lift_force, traction_force
from curves.setups.batch import Batch
from curves.setups.stack import Stack
from curves.steady.envelope import Drawn, draw
from curves.steady.runs_on import dragged_force

ROTATING_SHARE = 0.04
"""Rotating mass over mass where the wheels' inertia is not given (UN GTR No. 2)."""


class Push(NamedTuple):
    """Setups ready for a run; arrays of shape (setups, 1), masses (setups, gears).

    Attributes:
        batch: The setups as the solver takes them.
        weight: Weight across the road, N.
        grip: Most force over load of the driven tyre.
        wheelbase: m, NaN where unknown.
        height: Of the centre of gravity, m, NaN where unknown.
        ahead: Centre of gravity ahead of the rear axle, m, NaN where unknown.
        front: 1 where the front wheel is driven.
        inertia: Mass with all that turns, in each gear, kg.
        rolling: The same with the rotor at rest, kg, shape (setups, 1).
    """

    batch: Batch
    weight: Array
    grip: Array
    wheelbase: Array
    height: Array
    ahead: Array
    front: Array
    inertia: Array
    rolling: Array

    def pick(self, rows: Index) -> Push:
        """Some of the setups."""
        return Push(self.batch.pick(rows), *(x[rows] for x in self[1:]))

    def in_gear(self, gear: int) -> Push:
        """The same setups with one gear alone, 0 the tallest."""
        one = self.batch._replace(ratio=self.batch.ratio[:, gear, None])
        return self._replace(batch=one, inertia=self.inertia[:, gear, None])

    def limits(self, speed: Array) -> tuple[Array, Array]:
        """Grip and lift: the most rim force of the motor that each allows, N.

        Args:
            speed: Road speed, m/s, shape (setups, speeds).
        """
        rider = self.batch.road.rider(speed)
        grip = traction_force(
            self.weight, self.grip, self.wheelbase, self.height, self.ahead, self.front, rider
        )
        return grip, lift_force(self.weight, self.height, self.ahead, self.front, rider)

    def motor(self, speed: Array) -> tuple[Array, Drawn]:
        """Rim force of the motor within grip and lift, N, and the envelope's point there.

        Where the motor does not drive it is dragged along.

        Args:
            speed: Road speed, m/s, shape (setups, speeds).
        """
        drawn = draw(self.batch, speed)
        force = np.minimum(drawn.rim_force, np.minimum(*self.limits(speed)))
        undriven = np.isnan(drawn.rim_force)
        if undriven.any():
            force = np.where(undriven, -dragged_force(self.batch, speed), force)
        return force, drawn

    def net(self, speed: Array) -> tuple[Array, Array]:
        """Net force on the bike, N, and the mass it moves, kg.

        Args:
            speed: Road speed, m/s, shape (setups, speeds).
        """
        force, drawn = self.motor(speed)
        road = self.batch.road
        mass = np.take_along_axis(self.inertia, drawn.gear, 1)
        return force + road.rider(speed) - road.force(speed), mass

    def coasting(self, speed: Array) -> Array:
        """Net force between gears, N: no motor, turning or dragged, and the rider's feet still."""
        return -self.batch.road.force(speed)


def push(stack: Stack, batch: Batch | None = None) -> Push:
    """Setups ready for a run.

    Args:
        stack: The setups.
        batch: The same in SI, if at hand.
    """
    b = stack.batch() if batch is None else batch
    radius, mass = b.radius, b.road.mass
    wheels = stack.values["bike.wheel_inertia_kg_m2"][:, None] / radius**2
    rolling = mass + np.where(np.isnan(wheels), ROTATING_SHARE * mass, wheels)
    rotor = stack.of("motor.rotor_inertia_kg_m2")[:, None] * (b.ratio / radius) ** 2
    return Push(
        batch=b,
        weight=mass * GRAVITY / np.sqrt(1 + b.road.grade**2),
        grip=stack.values["bike.tyre_grip"][:, None],
        wheelbase=stack.values["bike.wheelbase_m"][:, None],
        height=stack.values["bike.cg_height_m"][:, None],
        ahead=stack.values["bike.cg_to_rear_axle_m"][:, None],
        front=stack.values["bike.front_driven"][:, None],
        inertia=rolling + rotor,
        rolling=rolling,
    )
