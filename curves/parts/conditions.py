"""The road and the air."""

from __future__ import annotations

from typing import Annotated, Final

import numpy as np
import numpy.typing as npt

from curves.parts.base import FloatArray, Table, quantity
from curves.units import GRAVITY as GRAVITY
from curves.units import ZERO_CELSIUS

# ISO 2533:1975, the troposphere (to 11 km geopotential altitude).
SEA_LEVEL_PA: Final = 101325.0
SEA_LEVEL_K: Final = 288.15
LAPSE_K_PER_M: Final = 0.0065
PRESSURE_EXPONENT: Final = 5.2558797
AIR_GAS_CONSTANT: Final = 287.05287


class Conditions(Table):
    """Where and in what weather.

    >>> from curves import Conditions
    >>> Conditions(grade_percent=8, headwind_kmh=-10).altitude_m
    0.0
    """

    grade_percent: Annotated[
        float,
        quantity(
            "Slope, rise over run; negative is downhill",
            "%",
            least=-100.0,
            most=100.0,
            plausible=(-40, 40),
        ),
    ] = 0.0
    headwind_kmh: Annotated[
        float,
        quantity(
            "Headwind; negative is a tailwind",
            "km/h",
            least=-300.0,
            most=300.0,
            plausible=(-100, 100),
        ),
    ] = 0.0
    altitude_m: Annotated[
        float,
        quantity(
            "Altitude above sea level", "m", least=-1000.0, most=11000.0, plausible=(-450, 6000)
        ),
    ] = 0.0
    air_c: Annotated[
        float, quantity("Air temperature", "°C", least=-80.0, most=80.0, plausible=(-40, 55))
    ] = 20.0


def air_density(altitude_m: npt.ArrayLike, air_c: npt.ArrayLike) -> FloatArray:
    """Density of dry air: ISO 2533 pressure at altitude, at the stated temperature.

    Args:
        altitude_m: geopotential altitude, m, up to 11 000, any shape.
        air_c: air temperature, °C.

    Returns:
        Density in kg/m³, of the arguments' common shape. Humidity is not modelled.
    """
    height = np.asarray(altitude_m, dtype=float)
    kelvin = np.asarray(air_c, dtype=float) + ZERO_CELSIUS
    pressure = SEA_LEVEL_PA * (1 - LAPSE_K_PER_M * height / SEA_LEVEL_K) ** PRESSURE_EXPONENT
    return np.asarray(pressure / (AIR_GAS_CONSTANT * kelvin))
