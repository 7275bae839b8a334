"""Road load of two-wheelers as regulations put it, by mass: a start where nothing is measured."""

from __future__ import annotations

from typing import Final

import numpy as np

from curves.units import KMH

US_MASS_KG: Final = np.arange(100.0, 341.0, 10.0)
# fmt: off
US_A_N: Final = np.array((
    0.0, 0.82, 1.70, 2.57, 3.44, 4.32, 5.19, 6.06, 6.94, 7.81, 8.69, 9.56, 10.43, 11.31, 12.18,
    13.06, 13.93, 14.80, 15.68, 16.55, 17.43, 18.30, 19.17, 20.05, 20.92,
))
US_C_N_PER_KMH2: Final = np.array((
    0.0224, 0.0227, 0.0230, 0.0233, 0.0235, 0.0238, 0.0241, 0.0244, 0.0246, 0.0249, 0.0252, 0.0255,
    0.0257, 0.0260, 0.0263, 0.0266, 0.0268, 0.0271, 0.0274, 0.0277, 0.0279, 0.0282, 0.0285, 0.0288,
    0.0290,
))
# fmt: on


def us_road_load(mass_kg: float) -> tuple[float, float, float]:
    """Coefficients f0, f1, f2 of a two-wheeler with its rider, for ``road_load_n``.

    ``F = A + C V²`` with V in km/h; between the rows of the table, 10 kg apart, a straight line.
    A motorcycle's frontal area is meant: a bicycle's may be a quarter less.

    Args:
        mass_kg: Bike, rider and load, kg, 95 to 345.

    Returns:
        N, N/(m/s), N/(m/s)².

    Raises:
        ValueError: outside the masses of the table.

    Source: 40 CFR 86.529-98, Figure F98-9 (US public law).
    """
    if not 95 <= mass_kg <= 345:
        raise ValueError(f"the table covers 95 to 345 kg, not {mass_kg:g} kg")
    constant = float(np.interp(mass_kg, US_MASS_KG, US_A_N))
    square = float(np.interp(mass_kg, US_MASS_KG, US_C_N_PER_KMH2))
    return constant, 0.0, square / KMH**2


def gtr_road_load(mass_kg: float) -> tuple[float, float, float]:
    """Coefficients f0, f1, f2 of a two-wheeler on a roller, for ``road_load_n``.

    ``a = 0.088 m``, ``b = 0.000015 m + 0.02`` in N and km/h. The constant is the front wheel's
    rolling resistance alone, for the rear tyre stands on the roller: on the road expect more.

    Args:
        mass_kg: Bike, rider and load, kg, above 0.

    Returns:
        N, N/(m/s), N/(m/s)².

    Raises:
        ValueError: if the mass is not above 0.

    Source: UN Global Technical Regulation No. 2.
    """
    if not 0 < mass_kg < np.inf:
        raise ValueError(f"the mass must be above 0 kg, not {mass_kg:g}")
    return 0.088 * mass_kg, 0.0, (0.000015 * mass_kg + 0.02) / KMH**2
