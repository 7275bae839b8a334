"""Road load and rotating mass of two-wheelers as regulations put them.

Source: UN Global Technical Regulation No. 2 (from memory): a = 0.088 m, b = 0.000015 m + 0.02 in N
and km/h; rotating mass may be taken as 4 % of the mass. 40 CFR 86.529-98, Figure F98-9 (US public
law): rows of A and C with the force at 65 km/h.
"""

from dataclasses import replace

import numpy as np
import pytest

from curves.motion.tractive_force import push
from curves.parts.bike import coast_down_force
from curves.parts.presets import US_A_N, US_C_N_PER_KMH2, US_MASS_KG, gtr_road_load, us_road_load
from curves.setups.stack import stack
from curves.units import KMH
from tests.runs_cases import rigs


@pytest.mark.parametrize("mass", [100.0, 150.0, 260.0])
def test_gtr(mass):
    at_50 = float(coast_down_force(50 * KMH, 0.0, *gtr_road_load(mass)))
    assert at_50 == pytest.approx(0.088 * mass + (0.000015 * mass + 0.02) * 2500, rel=1e-12)


@pytest.mark.parametrize(
    ("mass", "force"),
    [
        (100, 94.8),
        (120, 98.8),
        (150, 104.9),
        (180, 111.0),
        (200, 115.1),
        (250, 125.3),
        (300, 135.4),
    ],
)
def test_us_table(mass, force):
    # The rounded A and C meet the printed force to 0.2 N.
    assert float(coast_down_force(65 * KMH, 0.0, *us_road_load(mass))) == pytest.approx(
        force, abs=0.2
    )


def test_us_table_is_whole():
    assert US_MASS_KG.size == US_A_N.size == US_C_N_PER_KMH2.size
    # The rows lie on two straight lines, to the rounding of the last printed digit.
    for column, rounding in ((US_A_N, 0.005), (US_C_N_PER_KMH2, 5e-5)):
        line = np.polyval(np.polyfit(US_MASS_KG[1:], column[1:], 1), US_MASS_KG[1:])
        assert np.abs(column[1:] - line).max() < 2 * rounding


def test_outside_the_table():
    with pytest.raises(ValueError, match="95 to 345 kg"):
        us_road_load(80.0)
    with pytest.raises(ValueError, match="above 0"):
        gtr_road_load(0.0)


def test_rotating_mass():
    # The wheel's radius is 1 m here, so its inertia in kg m2 is its mass at the rim in kg.
    (given,) = rigs(bike="wheel_inertia_kg_m2 = 0.5")
    assert push(stack([given])).inertia[0, 0] == pytest.approx(180.5)
    unknown = given.bike.model_copy(update={"wheel_inertia_kg_m2": None})
    assert push(stack([replace(given, bike=unknown)])).inertia[0, 0] == pytest.approx(1.04 * 180)
