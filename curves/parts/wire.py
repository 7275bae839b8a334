"""Copper wire by gauge: what leads add to a pack's wiring resistance."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from curves.parts.base import FloatArray
from curves.parts.motor import copper_resistance
from curves.units import MILLIMETRE

COPPER_OHM_M = 1e-6 / 58
"""Resistivity of annealed copper at 20 °C, 1/58 Ω·mm²/m (IEC 60028)."""


def wire_diameter(gauge: npt.ArrayLike) -> FloatArray:
    """Diameter of a bare solid wire, m: ``0.127 mm · 92^((36 − n) / 39)``.

    Args:
        gauge: American wire gauge, 0 for 1/0 and negative beyond, any shape.

    Source: ASTM B258.
    """
    return np.asarray(0.127 * MILLIMETRE * 92 ** ((36 - np.asarray(gauge, dtype=float)) / 39))


def wire_resistance(
    gauge: npt.ArrayLike, length_m: npt.ArrayLike, celsius: npt.ArrayLike = 20.0
) -> FloatArray:
    """Resistance of copper wire, ohm; a lead and its return are twice the distance.

    Args:
        gauge: American wire gauge, any shape.
        length_m: Length of conductor, m.
        celsius: Temperature of the wire, °C.
    """
    area = np.pi / 4 * wire_diameter(gauge) ** 2
    cold = COPPER_OHM_M * np.asarray(length_m, dtype=float) / area
    return copper_resistance(cold, celsius)
