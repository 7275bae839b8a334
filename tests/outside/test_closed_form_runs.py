"""Runs with a closed form: constant force or constant power on 180 kg, with and without drag.

Source: derived; recomputed here with mpmath from the equations of motion. The figures noted in the
project's check list (given to the last digit below) hold within 0.2 %; what is asked for here is
agreement to 1e-6 s, which rests on the closed forms themselves.
"""

import mpmath as mp
import numpy as np
import pytest

from curves.motion.runs import Targets, coupled_runs, timed_runs
from curves.units import FOOT, MPH
from tests.runs_cases import constant_force, rigs

MASS, DRAG, FORCE, POWER = 180.0, 0.318816, 250.0, 2000.0
V20, V30 = 20 * MPH, 30 * MPH
SIXTY, EIGHTH = 60 * FOOT, 660 * FOOT
TARGETS = Targets(speeds=(V20, V30), distances=(SIXTY, EIGHTH))
ROAD = f"road_load_n = [0.0, 0.0, {DRAG}]"


def constant_power(bike=""):
    return rigs(tune=f"phase_current_a = 1e8\npower_cap_w = {POWER}", bike=bike)


def with_drag(force=FORCE):
    """Time and distance to a speed, and speed at a distance, under constant force and drag."""
    top = mp.sqrt(force / DRAG)
    rate = mp.mpf(MASS) / DRAG

    def time(v):
        return rate / top * mp.atanh(v / top)

    def distance(v):
        return -rate / 2 * mp.log(1 - (v / top) ** 2)

    def speed_at(x):
        return top * mp.sqrt(1 - mp.e ** (-2 * x / rate))

    return float(top), time, distance, speed_at


def test_constant_force():
    top, time, distance, speed_at = with_drag()
    got = timed_runs(constant_force(FORCE, ROAD), TARGETS)
    assert got.end_speed[0] == pytest.approx(28.00270, abs=5e-6)
    assert got.end_speed[0] == pytest.approx(top, rel=1e-12)
    # Noted: 6.670560 s, 30.35246 m; 10.516242 s; 5.159485 s at 7.013520; 18.046459 s at 19.990890.
    assert got.speed_time[0] == pytest.approx([6.670560, 10.516242], abs=1e-6)
    assert got.speed_distance[0, 0] == pytest.approx(30.35246, abs=5e-6)
    assert got.distance_time[0] == pytest.approx([5.159485, 18.046459], abs=1e-6)
    assert got.distance_speed[0] == pytest.approx([7.013520, 19.990890], abs=1e-6)
    assert got.speed_time[0] == pytest.approx([float(time(v)) for v in (V20, V30)], abs=1e-9)
    assert got.speed_distance[0] == pytest.approx(
        [float(distance(v)) for v in (V20, V30)], abs=1e-8
    )
    at = [speed_at(x) for x in (SIXTY, EIGHTH)]
    assert got.distance_speed[0] == pytest.approx([float(v) for v in at], abs=1e-8)
    assert got.distance_time[0] == pytest.approx([float(time(v)) for v in at], abs=1e-8)


def test_constant_power_with_drag():
    got = timed_runs(constant_power(ROAD), TARGETS)
    top = (POWER / DRAG) ** (1 / 3)
    assert got.end_speed[0] == pytest.approx(18.442932, abs=5e-7)
    assert got.end_speed[0] == pytest.approx(top, rel=1e-12)
    # Noted: 3.773874 s; 9.758627 s; 1/8 mile 17.136932 s at 16.030067 m/s. The rig's force has an
    # end at standstill (1e8 A), which costs less than 1e-8 s.
    assert got.speed_time[0] == pytest.approx([3.773874, 9.758627], abs=1e-6)
    assert got.distance_time[0, 1] == pytest.approx(17.136932, abs=1e-6)
    assert got.distance_speed[0, 1] == pytest.approx(16.030067, abs=1e-6)
    with mp.workdps(20):
        exact = [mp.quad(lambda v: MASS * v / (POWER - DRAG * v**3), [0, v]) for v in (V20, V30)]
    assert got.speed_time[0] == pytest.approx([float(t) for t in exact], abs=1e-7)


def test_constant_power_without_drag():
    got = timed_runs(constant_power(), TARGETS)
    # Noted: 3.597206, 8.093713, 16.001878 s at 18.857287 m/s.
    assert got.speed_time[0] == pytest.approx([3.597206, 8.093713], abs=1e-6)
    assert got.distance_time[0, 1] == pytest.approx(16.001878, abs=1e-6)
    assert got.distance_speed[0, 1] == pytest.approx(18.857287, abs=1e-6)
    exact = [MASS * v * v / (2 * POWER) for v in (V20, V30)]
    assert got.speed_time[0] == pytest.approx(exact, abs=1e-7)
    # A panel may be wrong by 2e-7 s.
    speed = (3 * POWER * EIGHTH / MASS) ** (1 / 3)
    assert got.distance_speed[0, 1] == pytest.approx(speed, abs=1e-6)


@pytest.mark.parametrize("setup", [constant_force(FORCE, ROAD), constant_power(ROAD)])
def test_integration_in_time_agrees(setup):
    # Both ways, within what is asked of them (1e-4 s). Constant power from rest is singular, so the
    # integration takes its own first step from a force that ends at standstill.
    fast, slow = timed_runs(setup, TARGETS), coupled_runs(setup, TARGETS).runs
    for name in ("speed_time", "distance_time"):
        assert np.abs(getattr(fast, name) - getattr(slow, name)).max() < 1e-4
