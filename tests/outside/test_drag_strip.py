"""Distances, speed trap and roll-out of the drag strip.

Source: common practice: 1/8 mile 201.168 m, 60 ft 18.288 m, trap over the last 66 ft; the clock
starts after one foot, 0.3048 m. The times that foot takes from rest (0.45078 s at 3 m/s2, 0.34917 s
at 5 m/s2) are derived, sqrt(2 x / a).
"""

import numpy as np
import pytest

from curves.motion.runs import Targets, coupled_runs, timed_runs
from curves.motion.runs.results import TRAP_M
from curves.units import FOOT, MILE
from tests.runs_cases import constant_force

EIGHTH = MILE / 8


def test_lengths():
    assert pytest.approx(201.168, abs=1e-9) == EIGHTH
    assert pytest.approx(201.168, abs=1e-9) == 660 * FOOT
    assert pytest.approx(18.288, abs=1e-9) == 60 * FOOT
    assert pytest.approx(20.1168, abs=1e-9) == TRAP_M


@pytest.mark.parametrize(("acceleration", "first_foot"), [(3.0, 0.45078), (5.0, 0.34917)])
@pytest.mark.parametrize("way", [timed_runs, lambda *a: coupled_runs(*a).runs])
def test_roll_out(acceleration, first_foot, way):
    setup = constant_force(180 * acceleration)
    speeds, distances = (10.0,), (60 * FOOT, EIGHTH)
    standing = way(setup, Targets(speeds, distances))
    rolling = way(setup, Targets(speeds, distances, roll_out=FOOT))
    for name in ("speed_time", "distance_time"):
        gained = getattr(standing, name) - getattr(rolling, name)
        assert gained == pytest.approx(np.full(gained.shape, first_foot), abs=5e-6)
    assert standing.distance_time[0, 1] == pytest.approx(np.sqrt(2 * EIGHTH / acceleration))


def test_trap_speed():
    got = timed_runs(constant_force(540.0), Targets((), (60 * FOOT, EIGHTH)))
    # Under constant acceleration the mean speed over a stretch is the mean of its two ends.
    start, end = np.sqrt(2 * 3 * np.array((EIGHTH - TRAP_M, EIGHTH)))
    assert got.trap_speed[0, 1] == pytest.approx((start + end) / 2, rel=1e-9)
    assert np.isnan(got.trap_speed[0, 0])
