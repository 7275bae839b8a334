"""Typical heat values of motors by kind and mass, and temperatures from resistance.

Nobody prints these values. Those given here scale with what is known, mass: stored heat with it,
surfaces with its two-thirds power. They are an engineer's estimate, sure to about half their size,
and say so; a hot and a cold resistance reading improves them.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from curves.parts.base import FloatArray
from curves.parts.motor import COPPER_COEFFICIENT_PER_K, Motor

HEAT_FIELDS: Final = (
    "winding_heat_j_per_k",
    "case_heat_j_per_k",
    "winding_to_case_w_per_k",
    "case_to_air_w_per_k",
    "case_to_air_w_per_k_per_m_s",
)
HALF: Final = 0.5
"""Tolerance of a typical heat value: half its size."""
COPPER_J_PER_KG_K: Final = 385.0
"""Specific heat of copper (physical constant, tables agree within 1 %)."""
CASE_J_PER_KG_K: Final = 550.0
"""Of steel with some aluminium (490 and 900)."""
INSULATION_C: Final = {"B": 130.0, "F": 155.0, "H": 180.0}
"""Temperature classes of insulation (IEC 60085)."""


class Kind(NamedTuple):
    """A kind of motor: its share of copper, and heat flows in W/K per kg^(2/3).

    Attributes:
        copper: Mass of copper over mass of the motor.
        inner: Winding to case.
        outer: Case to air at rest.
        wind: Case to air, growth per m/s of road speed.
    """

    copper: float
    inner: float
    outer: float
    wind: float


KINDS: Final = {
    "direct-drive hub": Kind(0.18, 1.8, 0.8, 0.18),
    "geared hub": Kind(0.14, 1.2, 0.9, 0.18),
    "mid-drive": Kind(0.12, 1.5, 0.9, 0.12),
}


def typical_heat(kind: str, mass_kg: float) -> dict[str, float]:
    """Typical heat values of a motor.

    Args:
        kind: One of ``KINDS``.
        mass_kg: Mass of the motor with its gears and shell, kg, above 0.

    Returns:
        The fields of ``HEAT_FIELDS``, each sure to half its size.

    Raises:
        ValueError: if the kind is not known or the mass not above 0.
    """
    if kind not in KINDS:
        raise ValueError(f"the kind of motor must be one of {', '.join(KINDS)}, not {kind!r}")
    if not 0 < mass_kg < np.inf:
        raise ValueError(f"the motor's mass must be above 0 kg, not {mass_kg:g}")
    typical = KINDS[kind]
    surface = mass_kg ** (2 / 3)
    copper = typical.copper * mass_kg
    values = (
        copper * COPPER_J_PER_KG_K,
        (mass_kg - copper) * CASE_J_PER_KG_K,
        typical.inner * surface,
        typical.outer * surface,
        typical.wind * surface,
    )
    return dict(zip(HEAT_FIELDS, values, strict=True))


def with_typical_heat(motor: Motor, kind: str, mass_kg: float) -> Motor:
    """The motor with typical heat values where it has none, and their tolerance and source.

    Args:
        motor: A motor.
        kind: One of ``KINDS``.
        mass_kg: Its mass, kg.

    Raises:
        ValueError: as ``typical_heat`` does.
    """
    values = typical_heat(kind, mass_kg)
    new = {name: x for name, x in values.items() if getattr(motor, name) is None}
    said = f"typical: estimate for a {kind} of {mass_kg:g} kg"
    return motor.model_copy(
        update={
            **new,
            "sources": {**motor.sources, **dict.fromkeys(new, said)},
            "tolerance": {**motor.tolerance, **dict.fromkeys(new, HALF)},
        }
    )


def winding_temperature(
    cold_ohm: npt.ArrayLike, cold_c: npt.ArrayLike, hot_ohm: npt.ArrayLike
) -> FloatArray:
    """Mean temperature of a copper winding from two readings of its resistance (IEC 60028).

    Args:
        cold_ohm: Resistance at a known temperature, ohm, any shape.
        cold_c: That temperature, °C.
        hot_ohm: Resistance right after the load, between the same leads, ohm.

    Returns:
        °C, of the arguments' common shape.
    """
    cold, known, hot = (np.asarray(x, dtype=np.float64) for x in (cold_ohm, cold_c, hot_ohm))
    at_zero = 1 / COPPER_COEFFICIENT_PER_K - 20
    return np.asarray(hot / cold * (known + at_zero) - at_zero)
