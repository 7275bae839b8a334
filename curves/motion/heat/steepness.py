"""Settled temperatures at each speed, from the level up to the steepest grade that is held."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.motion.heat.settling import settled
from curves.motion.state import rows, thermal
from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.stack import stack
from curves.units import PERCENT


@dataclass(frozen=True)
class Steepness:
    """One setup over speed and grade; arrays of shape (grades, speeds).

    Attributes:
        speed: m/s, shape (speeds,).
        grade: Tangents, evenly from 0 to the steepest; NaN where that is not above 0.
        winding_c: Where the winding settles, °C; infinite where nothing settles, NaN where heat
            values are not given or there is no grade.
        limit_c: Temperature the winding may reach, °C; infinite if not given.
        air_c: °C.
    """

    speed: Array
    grade: Array
    winding_c: Array
    limit_c: float
    air_c: float


def settled_to_steepest(rig: Rig, speed: Array, most: Array, count: int) -> Steepness:
    """Where a setup's winding settles at each speed, from the level to all that the motor holds.

    Args:
        rig: The setup; its own grade is left aside.
        speed: Road speeds, m/s, above 0, shape (speeds,).
        most: The steepest grade the cold motor holds at each, tangent, shape (speeds,).
        count: Grades at each, 2 or more.
    """
    one = stack([rig])
    top = np.where(most > 0, most, np.nan)
    grade = np.linspace(0.0, 1.0, count)[:, None] * top
    cells = np.flatnonzero(~np.isnan(grade.ravel()))
    s = rows(one, np.zeros(cells.size, dtype=np.intp)).vary(
        {"conditions.grade_percent": grade.ravel()[cells] / PERCENT}
    )
    v = np.broadcast_to(speed, grade.shape).ravel()[cells]
    winding = np.full(grade.size, np.nan)
    found = settled(s, v, slower=False).winding_c
    heat = thermal(one)
    # At the very steepest, rounding decides whether the cold motor holds it: nothing settles there.
    steepest = cells >= grade.size - speed.size
    found = np.where(np.isnan(found) & steepest & heat.known[0], np.inf, found)
    winding[cells] = found
    return Steepness(
        speed,
        grade,
        winding.reshape(grade.shape),
        float(heat.limit_c[0]),
        float(heat.air_c[0]),
    )
