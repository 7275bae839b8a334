"""Back-EMF with the drive off: closed forms, balance of power, and the speeds that go with it."""

import numpy as np
import pytest

from curves.parts.job import load_job
from curves.point.drive_off import DIODE_V, SHARES, TIMES, back_emf, generation, speed_at_emf
from curves.point.limits import Drive
from curves.steady.balance import top_speed
from curves.steady.drive_off import drive_off
from curves.units import RPM


def drive(**given) -> Drive:
    values = {
        "pole_pairs": 20.0,
        "flux": 0.033,
        "resistance": 0.09,
        "ld": 150e-6,
        "lq": 150e-6,
        "open_circuit_v": 48.0,
        "pack_resistance": 0.12,
    } | given
    arrays = {name: np.atleast_1d(np.asarray(values.get(name, 0.0))) for name in Drive._fields}
    return Drive(**arrays | {"derating_a": np.array([[0.0]]), "derating": np.array([[1.0]])})


W = np.linspace(0.0, 150.0, 31)
BRIDGE_V = 48.0 + 2 * DIODE_V


def share(w):
    """Of the bridge's volts, what holds the current down: less below 1.5 times the start."""
    return np.interp(np.sqrt(3) * 20.0 * w * 0.033 / BRIDGE_V, TIMES, SHARES)


def test_without_resistance_or_saliency_the_reactance_alone_holds_the_current():
    """Derived: emf^2 = V1^2 + (w p L I)^2, mean current 3 I / pi at the bridge's volts."""
    d = drive(resistance=0.0, pack_resistance=0.0)
    got = generation(d, W[1:])
    emf, reactance = 20.0 * W[1:] * 0.033, 20.0 * W[1:] * 150e-6
    current = np.sqrt(np.maximum(emf**2 - (share(W[1:]) * BRIDGE_V) ** 2, 0.0)) / reactance
    assert got.pack_current == pytest.approx(3 / np.pi * current, rel=1e-12)
    assert got.torque == pytest.approx(-3 / np.pi * BRIDGE_V * current / W[1:], rel=1e-12)
    assert np.hypot(got.current_d, got.current_q) == pytest.approx(current, rel=1e-12)
    assert (got.bridge_v == BRIDGE_V).all()


@pytest.mark.parametrize("lq", [150e-6, 151e-6, 400e-6, 900e-6])
def test_what_brakes_is_what_charges_and_heats(lq):
    d = drive(lq=lq)
    got = generation(d, W)
    length = np.hypot(got.current_d, got.current_q)
    heat = 1.5 * 0.09 * length**2
    assert -got.torque * W == pytest.approx(heat + got.bridge_v * got.pack_current, rel=1e-9)
    assert got.bridge_v == pytest.approx(BRIDGE_V + 0.12 * got.pack_current, rel=1e-12)
    # Phase voltage of the motor's equations, in phase with the current that leaves it.
    v_d = 0.09 * got.current_d - 20.0 * W * lq * got.current_q
    v_q = 0.09 * got.current_q + 20.0 * W * (150e-6 * got.current_d + 0.033)
    on = got.pack_current > 0
    assert on.any()
    assert not on.all()
    assert (v_d * got.current_q)[on] == pytest.approx((v_q * got.current_d)[on], rel=1e-9)
    assert np.hypot(v_d, v_q)[on] == pytest.approx((share(W) * got.bridge_v)[on], rel=1e-9)


def test_a_little_saliency_changes_little():
    plain, salient = generation(drive(), W), generation(drive(lq=150e-6 * (1 + 1e-7)), W)
    assert salient.torque == pytest.approx(plain.torque, rel=1e-6)


def test_much_saliency_outlives_the_pack_volts_and_little_does_not():
    """Lq above 2 Ld, as Jahns and Caliskan have it for a machine without resistance."""
    below = 0.999 * BRIDGE_V / np.sqrt(3) / (20.0 * 0.033)
    without = {"resistance": 0.0, "pack_resistance": 0.0}
    assert generation(drive(lq=1.99 * 150e-6, **without), below).pack_current[0] == 0
    assert generation(drive(lq=3.0 * 150e-6, **without), below).pack_current[0] > 1


def test_nothing_that_limits_the_current_is_still_a_number():
    got = generation(drive(resistance=0.0, pack_resistance=0.0, ld=0.0, lq=0.0), W)
    assert np.isfinite(np.stack(got)).all()


def test_back_emf_is_rpm_over_kv():
    kv = 60 / (2 * np.pi * np.sqrt(3) * 20.0 * 0.033)
    assert back_emf(drive(), 300 * RPM) == pytest.approx(300 / kv, rel=1e-12)
    assert speed_at_emf(drive(), np.array([48.0])) == pytest.approx(48.0 * kv * RPM, rel=1e-12)


def rig(*changes, name="13 cells, weakened"):
    job = load_job()
    for path, value in changes:
        job = job.replace(path, value)
    return job.rig(name)


FAST = (
    (("tune", "weakened", "field_weakening_a"), 60.0),
    (("tune", "weakened", "power_cap_w"), None),
)


def test_speeds_and_margins_are_those_of_the_coldest_magnet():
    one = rig(*FAST, (("conditions", "air_c"), -5.0))
    got = drive_off([one])
    assert got.magnet_c[0] == -5.0
    kv = one.motor.kv_rpm_per_v / (1 + one.motor.magnet_coefficient_per_k * (-5.0 - 20.0))
    per_volt = kv * RPM * one.bike.roll_out_m / (2 * np.pi) / one.motor.gear_ratio
    volts = one.pack.open_circuit(1.0) + 2 * DIODE_V
    assert got.starts[0] == pytest.approx(volts * per_volt, rel=1e-12)
    assert got.exceeds_rating[0] == pytest.approx(90.0 * per_volt, rel=1e-12)
    top = top_speed([one])
    assert got.emf_v[0] == pytest.approx(top.speed[0] / per_volt, rel=1e-9)
    assert got.margin_v[0] == pytest.approx(volts - got.emf_v[0], rel=1e-12)
    assert got.rating_margin_v[0] == pytest.approx(90.0 - got.emf_v[0], rel=1e-12)


def test_a_setup_weakened_past_the_pack_volts_brakes_and_charges_when_the_drive_goes_off():
    road = (("conditions", "grade_percent"), -8.0)
    one = rig(*FAST, road)
    got = drive_off([one])
    assert got.top_speed[0] > got.starts[0]
    assert got.margin_v[0] < 0
    assert got.charging_current[0] > 1
    rim = got.brake_torque[0] * 2 * np.pi / one.bike.roll_out_m
    assert got.brake_force[0] == pytest.approx(rim, rel=1e-9)
    charged = one.pack.open_circuit(1.0) + got.charging_current[0] * one.pack.resistance()
    assert got.pack_voltage[0] == pytest.approx(charged, rel=1e-12)
    assert got.lasts[0]


def test_behind_a_clutch_the_wheel_feels_nothing():
    road = (("conditions", "grade_percent"), -8.0)
    hub = rig(*FAST, road)
    clutch = hub.__class__(
        **{**vars(hub), "motor": hub.motor.model_copy(update={"overrunning_clutch": True})}
    )
    got = drive_off([hub, clutch])
    assert got.brake_force[1] == 0
    assert got.lasts.tolist() == [True, False]


def test_null_where_the_bike_cannot_start_or_no_rating_is_given():
    stuck = rig((("conditions", "grade_percent"), 90.0))
    unrated = rig((("controller", "sine", "max_input_v"), None))
    got = drive_off([stuck, unrated])
    assert np.isnan(got.brake_torque[0])
    assert np.isnan(got.emf_v[0])
    assert got.starts[0] > 0
    assert np.isnan(got.exceeds_rating[1])
    assert np.isnan(got.rating_margin_v[1])
    assert got.emf_v[1] > 0


def test_just_above_the_start_there_is_some_current():
    """Six diodes conduct in bursts there: what they give is not told as nothing."""
    road = (("conditions", "grade_percent"), 0.0)
    one = rig(*FAST, road)
    plain = drive_off([one])
    # Lower the pack until top speed lies just above the speed at which the diodes conduct.
    source = one.pack.model_validate(
        {"open_circuit_v": plain.emf_v[0] / 1.05 - 2 * DIODE_V, "resistance_ohm": 0.05}
    )
    top = top_speed([one])
    got = drive_off([one.__class__(**{**vars(one), "pack": source})], top)
    assert 1.0 < got.top_speed[0] / got.starts[0] < 1.1
    assert got.charging_current[0] > 0
    assert got.brake_torque[0] > 0
    assert drive_off([rig()]).charging_current[0] == 0


def test_behind_a_clutch_the_rotor_is_no_faster_than_it_drives_itself():
    road = (("conditions", "grade_percent"), -15.0)
    hub = rig(road)
    motor = hub.motor.model_copy(update={"overrunning_clutch": True})
    free = hub.__class__(**{**vars(hub), "motor": motor})
    top = top_speed([free])
    assert top.limited_by[0] == ("coasting",)
    per = free.motor.gear_ratio * 2 * np.pi / free.bike.roll_out_m
    assert drive_off([free], top).rotor_speed[0] == pytest.approx(top.no_load_speed[0] * per)
