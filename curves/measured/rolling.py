"""How a bike slows: the road load of a coast-down, the time between speeds, speed over time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.polynomial import legendre

from curves.numerics.roots import Array
from curves.parts.bike import coast_down_force, slope_force
from curves.parts.conditions import GRAVITY, air_density

STANDARD_C: Final = 20.0
"""Standard air here is that of a job's own conditions: sea level, 20 °C, 1.204 kg/m³."""
STANDARD_DENSITY: Final = float(air_density(0.0, STANDARD_C))
NODES, WEIGHTS = legendre.leggauss(12)
STEP_S: Final = 0.5
MOST_STEPS: Final = 20_000
"""Nothing coasts for nearly three hours; what claims to takes longer steps."""
"""Of the integration of a logged coast-down."""
LEAST_FORCE: Final = 1e-3
"""N; a trial road load below it would never stop the bike."""


@dataclass(frozen=True)
class Rolled:
    """What rolled, and in what air.

    Attributes:
        mass: Bike, pack, rider and load, kg.
        rotating_share: Mass of what turns, over mass.
        density: Of the air, kg/m³.
        dragged: Rim force of a motor that turns along, N, and its growth with speed, N/(m/s).
    """

    mass: float
    rotating_share: float
    density: float
    dragged: tuple[float, float] = (0.0, 0.0)

    @property
    def inertia(self) -> float:
        """Mass with all that turns, kg."""
        return self.mass * (1 + self.rotating_share)


def interval_time(sets: Array, rolled: Rolled, high: Array, low: Array, sign: Array) -> Array:
    """Time to slow between speeds, ``∫ m dv / F``, s.

    Args:
        sets: f0, f1, f2 in standard air, wind and slope, shape (sets, 5).
        rolled: what rolls.
        high: m/s, shape (intervals,).
        low: m/s, shape (intervals,).
        sign: 1 for out, -1 for back, shape (intervals,).

    Returns:
        Shape (sets, intervals).
    """
    half = (high - low)[:, None] / 2
    v = low[:, None] + half * (NODES + 1)
    force = road_load(sets[:, None, None, :], v, sign[:, None], rolled)
    return np.asarray(rolled.inertia * np.sum(half * WEIGHTS / force, axis=-1))


def coasting_speed(sets: Array, begin: Array, rolled: Rolled, sign: float, time: Array) -> Array:
    """Speed over time of a coast-down, m/s, by Runge-Kutta steps.

    Args:
        sets: as for ``interval_time``.
        begin: speed at time 0, m/s, shape (sets,).
        rolled: what rolls.
        sign: 1 for out, -1 for back.
        time: s, rising from 0, shape (samples,).

    Returns:
        Shape (sets, samples).
    """
    count = int(np.clip(time[-1] / STEP_S + 1, 8, MOST_STEPS))
    step = float(time[-1]) / count

    force = _law(sets, np.array(sign), rolled)

    def slope(v: Array) -> Array:
        return np.where(v > 0, -force(v) / rolled.inertia, 0.0)

    grid, slopes = np.empty((2, count + 1, begin.size))
    grid[0] = begin
    for k in range(count):
        v = grid[k]
        slopes[k] = a = slope(v)
        b = slope(v + step / 2 * a)
        c = slope(v + step / 2 * b)
        d = slope(v + step * c)
        grid[k + 1] = np.maximum(v + step * (a + 2 * b + 2 * c + d) / 6, 0.0)
    slopes[count] = slope(grid[count])
    from scipy.interpolate import CubicHermiteSpline

    knots = np.linspace(0.0, float(time[-1]), count + 1)
    return np.asarray(CubicHermiteSpline(knots, grid, slopes)(time).T)


def road_load(sets: Array, speed: Array, sign: Array, rolled: Rolled) -> Array:
    """Force that slows the bike in the test's air and direction, N; at least ``LEAST_FORCE``.

    Args:
        sets: f0, f1, f2 in standard air, wind and slope on the last axis.
        speed: m/s.
        sign: 1 for out, -1 for back.
        rolled: what rolls.
    """
    return _law(sets, sign, rolled)(speed)


def _law(sets: Array, sign: Array, rolled: Rolled) -> Callable[[Array], Array]:
    """``road_load`` over speed; what no speed changes is worked out once."""
    f0, f1, f2, wind, grade = (sets[..., k] for k in range(5))
    thick = f2 * (rolled.density / STANDARD_DENSITY)
    held = sign * slope_force(rolled.mass, grade, GRAVITY) + rolled.dragged[0]
    base, linear, headwind = f0 + held, f1 + rolled.dragged[1], sign * wind
    return lambda v: np.maximum(coast_down_force(v, headwind, base, linear, thick), LEAST_FORCE)
