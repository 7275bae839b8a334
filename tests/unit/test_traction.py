"""Grip and lift with load transfer, and the grades they and the motor allow."""

from dataclasses import replace

import numpy as np
import pytest

from curves import load_job
from curves.motion.climb import chain_torque, held_speed, steepest_grade
from curves.parts.traction import lift_force, traction_force
from curves.setups.stack import stack
from curves.steady.balance import top_speed
from tests.runs_cases import constant_force

W, MU, L, H, B = 1700.0, 0.8, 1.3, 0.9, 0.5


def loads(force, rider=0.0):
    """Weight on the front and the rear wheel under a driving force."""
    moved = (force + rider) * H / L
    return W * B / L - moved, W * (L - B) / L + moved


@pytest.mark.parametrize("rider", [0.0, 60.0])
def test_traction_is_grip_times_the_load_it_causes_itself(rider):
    # A small grip, so that the front wheel stays down.
    rear = float(traction_force(W, 0.4, L, H, B, 0.0, rider))
    assert rear + rider == pytest.approx(0.4 * loads(rear, rider)[1], rel=1e-12)
    front = float(traction_force(W, MU, L, H, B, 1.0, rider))
    assert front == pytest.approx(MU * loads(front, rider)[0], rel=1e-12)


def test_lift_is_where_the_front_wheel_carries_nothing():
    force = float(lift_force(W, H, B, 0.0))
    assert loads(force)[0] == pytest.approx(0.0, abs=1e-9)
    assert np.isinf(lift_force(W, H, B, 1.0))


def test_grip_never_ends_it_where_the_wheel_lifts_first():
    # mu h at least L: every more force brings more than enough load.
    assert np.isinf(traction_force(W, 2.0, L, H, B, 0.0))


@pytest.mark.parametrize("unknown", [(np.nan, H, B), (L, H, np.nan)])
def test_unknown_geometry_is_no_limit(unknown):
    assert np.isinf(traction_force(W, MU, *unknown, 0.0))
    assert np.isinf(lift_force(W, np.nan, B, 0.0))


def test_unknown_height_leaves_the_load_at_rest():
    assert float(traction_force(W, MU, L, np.nan, B, 0.0)) == pytest.approx(MU * W * (L - B) / L)


def test_steepest_grade_and_held_speed_are_inverse():
    setups = load_job(None).rigs()
    at = held_speed(setups, 0.06)
    back = steepest_grade(setups, at.speed[:, None])
    assert back.motor[:, 0] == pytest.approx(0.06, abs=1e-9)


def test_start_on_a_grade_of_constant_force():
    (rig,) = constant_force(600.0)
    got = steepest_grade([rig], np.array([0.0]))
    # sin of the angle is force over weight.
    sine = 600 / (180 * 9.80665)
    assert got.held[0, 0] == pytest.approx(sine / np.sqrt(1 - sine**2), rel=1e-12)
    assert np.isinf(got.grip[0, 0])


def test_grip_on_a_grade():
    (rig,) = constant_force(1e4)
    bike = rig.bike.model_copy(
        update={"wheelbase_m": L, "cg_height_m": H, "cg_to_rear_axle_m": B, "tyre_grip": MU}
    )
    got = steepest_grade([replace(rig, bike=bike)], np.array([0.0]))
    # Force and slope both grow with the weight: the tangent is force across over weight.
    by_grip = MU * (L - B) / (L - MU * H)
    assert got.held[0, 0] == pytest.approx(min(by_grip, B / H), rel=1e-12)
    assert np.isinf(got.motor[0, 0])


def test_level_top_speed_is_a_grade_of_zero():
    setups = load_job(None).rigs()
    assert np.allclose(held_speed(setups, 0.0).speed, top_speed(setups).speed, rtol=1e-12)


def test_chain_torque_is_at_the_motors_output():
    (rig,) = constant_force(300.0)
    motor = rig.motor.model_copy(update={"gear_ratio": 10.0, "gear_efficiency": 0.9})
    # 300 N on a wheel of 1 m are 300 N m at a rotor without gears.
    assert chain_torque(stack([replace(rig, motor=motor)]))[0] == pytest.approx(300 * 10 * 0.9)
