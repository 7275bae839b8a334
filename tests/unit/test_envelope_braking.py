"""Braking at the rim."""

import numpy as np
import pytest

from curves.parts.job import load_job
from curves.steady.braking import BRAKING_WORDS, braking_envelope
from curves.units import KMH

SPEED = np.array([0.0, 5.0, 20.0, 35.0]) * KMH


def rig(**changes):
    job = load_job()
    for path, value in ({"tune.weakened.regen_pack_current_a": 8.0} | changes).items():
        job = job.replace(tuple(path.split(".")), value)
    return job.rig("13 cells, weakened")


def words(row) -> list[str]:
    return [word for word, met in zip(BRAKING_WORDS, row, strict=True) if met]


def part_full(*changes):
    job = load_job().replace(("tune", "weakened", "regen_pack_current_a"), 8.0)
    for path, value in changes:
        job = job.replace(path, value)
    return job.replace(("setup", "13 cells, weakened", "state_of_charge"), 0.6).rig(
        "13 cells, weakened"
    )


def test_force_at_the_rim_is_torque_through_the_gears_and_their_loss():
    geared = ("motor", "hub", "gear_efficiency"), 0.9
    one = part_full(geared, (("bike", "cargo", "final_drive_efficiency"), 0.95))
    got = braking_envelope([one], SPEED)
    ratio = one.motor.gear_ratio * one.bike.ratios[0]
    radius = one.bike.roll_out_m / (2 * np.pi)
    loss = one.motor.gear_efficiency * one.bike.final_drive_efficiency
    assert got.rim_force == pytest.approx(got.torque * ratio / (radius * loss), rel=1e-12)
    drag = one.motor.no_load_torque_nm + one.motor.no_load_torque_nm_per_rad_s * got.rotor_speed
    assert got.torque == pytest.approx(got.electrical_torque - drag, rel=1e-12)
    assert (got.rim_force < 0).all()


def test_the_pack_is_charged_at_the_limit_and_its_volts_rise():
    got = braking_envelope([part_full()], SPEED)
    k = 2
    assert "regen pack current" in words(got.limited[0, k])
    assert got.pack_current[0, k] == pytest.approx(-8.0, rel=1e-6)
    assert got.pack_voltage[0, k] == pytest.approx(
        part_full().pack.open_circuit(0.6) + 8.0 * part_full().pack.resistance(), rel=1e-9
    )


def test_state_of_charge_decides():
    full = braking_envelope([rig()], SPEED)
    part = braking_envelope([part_full()], SPEED)
    assert (part.electrical_torque[0, 2:] < 1.2 * full.electrical_torque[0, 2:]).all()
    assert "full-charge voltage" in words(full.limited[0, 2])
    assert full.pack_power[0, 2:] == pytest.approx(0.0, abs=1e-6)


def test_no_regen_leaves_the_drag():
    got = braking_envelope([rig(**{"tune.weakened.regen_pack_current_a": 0.0})], SPEED)
    assert (got.electrical_torque == 0).all()
    assert (got.torque < 0).all()
    assert words(got.limited[0, 1]) == ["regen pack current"]


def test_a_clutch_leaves_nothing():
    got = braking_envelope([rig(**{"motor.hub.overrunning_clutch": True})], SPEED)
    assert (got.rim_force == 0).all()
    assert (got.current_q == 0).all()
    assert words(got.limited[0, 2]) == ["overrunning clutch"]


def test_above_a_ceiling_there_is_nothing_and_it_says_so():
    got = braking_envelope([rig(**{"motor.hub.max_rpm": 150.0})], SPEED)
    assert np.isnan(got.rim_force[0, -1])
    assert words(got.limited[0, -1]) == ["motor speed"]
    assert got.rim_force[0, 1] < 0
