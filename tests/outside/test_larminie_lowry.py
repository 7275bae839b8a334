"""Acceleration of an electric scooter.

Source: Larminie and Lowry, *Electric Vehicle Technology Explained*, 2003, section 7.3.2 (from
memory; the coefficients reproduce): 185 kg, effective 194 kg, rolling 0.007, drag coefficient 0.75
on 0.6 m2, reduction 2, wheel 0.21 m, efficiency 0.98, torque 34 N m, then 153 - 1.16 w. With them
v' = 1.57 - 0.00145 v2 below 10.8 m/s, then 7.30 - 0.53 v - 0.00145 v2.
The splits are a fourth-order integration of those rounded coefficients.
"""

import numpy as np
import pytest

from curves.motion.runs import Targets, coupled_runs, timed_runs
from curves.units import FOOT, MPH
from tests.runs_cases import FLUX, PER_AMPERE, rigs

MASS = 194.0
TARGETS = Targets(speeds=(20 * MPH,), distances=(60 * FOOT, 660 * FOOT))


def scooter():
    """The two straight lines as a motor: torque falls with speed as volts run out over R."""
    slope, start, first = 0.53 * MASS, 7.30 * MASS, 1.57 * MASS
    ohm = PER_AMPERE * FLUX / slope
    volts = float(start * ohm / PER_AMPERE * np.sqrt(3))
    return rigs(
        motor=f"resistance_ohm = {2 * ohm!r}",
        pack=f"open_circuit_v = {volts!r}\nresistance_ohm = 0.0",
        tune=f"phase_current_a = {first / PER_AMPERE!r}",
        bike=f"bike_mass_kg = {MASS}\nroad_load_n = [0.0, 0.0, {0.00145 * MASS!r}]",
    )


def test_splits():
    got = timed_runs(scooter(), TARGETS)
    # Half a unit of the last printed digit.
    assert got.end_speed[0] == pytest.approx(13.29, abs=5e-3)
    assert got.speed_time[0, 0] == pytest.approx(5.841, abs=6e-4)
    assert got.speed_distance[0, 0] == pytest.approx(26.45, abs=5e-3)
    assert got.distance_time[0] == pytest.approx([4.848, 19.65], abs=5e-3)
    assert got.distance_speed[0] == pytest.approx([7.479, 13.288], abs=6e-4)


def test_coupled_run_agrees():
    got, slow = timed_runs(scooter(), TARGETS), coupled_runs(scooter(), TARGETS).runs
    assert np.abs(got.speed_time - slow.speed_time).max() < 1e-4
    assert np.abs(got.distance_time - slow.distance_time).max() < 1e-4


def test_from_the_parts_themselves():
    # Unrounded, from the book's own parts; 0.53, printed with two digits, is known to 1 %.
    ohm, gravity = PER_AMPERE * FLUX / 1.16, 9.8
    volts = float(153 * ohm / PER_AMPERE * np.sqrt(3))
    own = rigs(
        motor=f"resistance_ohm = {2 * ohm!r}\ngear_ratio = 2.0\ngear_efficiency = 0.98",
        pack=f"open_circuit_v = {volts!r}\nresistance_ohm = 0.0",
        tune=f"phase_current_a = {34 / PER_AMPERE!r}",
        bike=(
            f"bike_mass_kg = 185.0\ncircumference_m = {2 * np.pi * 0.21!r}\n"
            f"wheel_inertia_kg_m2 = {9 * 0.21**2!r}\n"
            f"road_load_n = [{0.007 * 185 * gravity!r}, 0.0, {0.5 * 1.25 * 0.75 * 0.6!r}]"
        ),
    )
    got = timed_runs(own, TARGETS)
    assert got.end_speed[0] == pytest.approx(13.29, rel=5e-3)
    assert got.speed_time[0, 0] == pytest.approx(5.841, rel=5e-3)
    assert got.distance_time[0] == pytest.approx([4.848, 19.65], rel=5e-3)
