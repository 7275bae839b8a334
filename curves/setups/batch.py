"""Setups ready for the solver: everything in SI, one row a setup."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from curves.numerics.roots import Array, Index
from curves.parts import bike as bike_laws
from curves.parts import conditions as air
from curves.point.drive_off import back_emf
from curves.point.limits import Drive


class Road(NamedTuple):
    """What the bike asks of the rim, SI, arrays that broadcast."""

    mass: Array
    grade: Array
    headwind: Array
    rolling: Array
    drag_area: Array
    density: Array
    f0: Array
    f1: Array
    f2: Array
    rider_w: Array

    def force(self, speed: Array) -> Array:
        """Road load, N, at road speeds in m/s."""
        return bike_laws.road_force(
            speed,
            mass_kg=self.mass,
            grade=self.grade,
            headwind=self.headwind,
            rolling_coefficient=self.rolling,
            drag_area_m2=self.drag_area,
            density=self.density,
            f0=self.f0,
            f1=self.f1,
            f2=self.f2,
            gravity=air.GRAVITY,
        )

    def slope(self, speed: Array) -> Array:
        """Growth of the road load with speed, N per m/s."""
        through = np.abs(speed + self.headwind)
        return self.f1 + (self.density * self.drag_area + 2 * self.f2) * through

    def per_drag_area(self, speed: Array) -> Array:
        """Road load per square metre of drag area, N/m²."""
        through = speed + self.headwind
        return 0.5 * self.density * through * np.abs(through)

    def per_mass(self) -> Array:
        """Road load per kilogram, N/kg."""
        unit = self._replace(mass=np.ones_like(self.mass), drag_area=np.zeros_like(self.mass))
        zero = np.zeros_like(self.mass)
        return unit._replace(f0=zero, f1=zero, f2=zero).force(zero)

    def rider(self, speed: Array) -> Array:
        """Force of the rider's own watts, N: from 1 m/s up, none below."""
        return np.where(speed >= 1.0, self.rider_w / np.maximum(speed, 1.0), 0.0)


class Batch(NamedTuple):
    """Setups ready for the solver: SI, every field of shape (setups, 1) so that speeds broadcast.

    ``ratio`` has shape (setups, gears): rotor radians per wheel radian, rising, so the tallest gear
    comes first; unused gears repeat the last. ``full_charge_v`` is infinite where not given.
    ``phase_per_a`` is what the phase limit grows by with one more ampere of setting and rating;
    ``cold_flux`` is the flux linkage of the coldest magnets of the conditions, Wb.
    """

    drive: Drive
    road: Road
    ratio: Array
    radius: Array
    efficiency: Array
    motor_efficiency: Array
    controller_ohm: Array
    speed_cap: Array
    rotor_limit: Array
    electrical_limit: Array
    clutch: Array
    regen_a: Array
    full_charge_v: Array
    basis: Array
    phase_per_a: Array
    cell_v: Array
    cell_ohm: Array
    cell_kg: Array
    cold_flux: Array

    @property
    def size(self) -> int:
        """How many setups."""
        return int(self.ratio.shape[0])

    def drive_off_emf(self, rotor_speed: Array) -> tuple[Array, Array]:
        """Line-to-line peak of the back-EMF with the drive off, V.

        Args:
            rotor_speed: rad/s, shape (setups, speeds).

        Returns:
            At the setup's own magnet temperature, and for the coldest magnets of the conditions.
        """
        own = back_emf(self.drive, rotor_speed)
        return own, back_emf(self.drive._replace(flux=self.cold_flux), rotor_speed)

    def pick(self, rows: Index) -> Batch:
        """Some of the setups."""
        return self.each(lambda x: x[rows])

    def each(self, change: Callable[[Array], Array]) -> Batch:
        """The same setups with every array changed."""
        drive = Drive(*(change(x) for x in self.drive))
        road = Road(*(change(x) for x in self.road))
        return Batch(drive, road, *(change(x) for x in self[2:]))
