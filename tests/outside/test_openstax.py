"""Power up a hill.

Source: OpenStax, *University Physics* volume 1, chapter 7: 1200 kg up 15 % at 90 km/h with a
quarter of the power lost take 58 kW; 58.149 with the grade taken as a tangent (derived). The book's
g is 9.8, which here goes into the mass.
"""

import numpy as np
import pytest

from curves.parts.bike import slope_force
from curves.setups.stack import stack
from curves.steady.part_load import hold
from curves.units import GRAVITY, KMH
from tests.runs_cases import rigs

SPEED = 90 * KMH


def test_slope_force():
    power = float(slope_force(1200.0, 0.15, 9.8)) * SPEED / 0.75
    assert power == pytest.approx(58e3, abs=500)
    assert power == pytest.approx(58.149e3, abs=0.5)


def test_held_by_a_setup():
    setup = rigs(
        tune="phase_current_a = 1e5",
        bike=f"bike_mass_kg = {1200 * 9.8 / GRAVITY!r}\nfinal_drive_efficiency = 0.75",
        extra="[conditions]\ngrade_percent = 15.0",
    )
    batch = stack(setup).batch()
    held = hold(batch, np.array([SPEED]), batch.road.force(np.array([SPEED])))
    # No copper, no pack loss: what is drawn is what goes into the gears.
    assert held.power[0, 0] == pytest.approx(58.149e3, abs=0.5)
    assert held.gears_w[0, 0] == pytest.approx(held.power[0, 0] / 4)
