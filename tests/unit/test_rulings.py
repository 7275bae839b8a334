"""The rulings of the job file's page, one test each, by closed forms worked out here."""

import json
import math

import numpy as np
import pytest

from curves import JobError, parse_job
from curves.steady.balance import top_speed
from curves.steady.envelope import envelope, words

KMH, RPM = 1 / 3.6, math.pi / 30
SQRT2, SQRT3 = math.sqrt(2), math.sqrt(3)

# A stiff 48 V pack, an ideal controller, a surface-magnet motor without drag, a wheel of 2 m.
MOTOR = {
    "kv_rpm_per_v": 10.0,
    "resistance_ohm": 0.2,
    "inductance_d_uh": 200.0,
    "inductance_q_uh": 200.0,
    "pole_pairs": 10,
}
PACK = {"open_circuit_v": 48.0, "resistance_ohm": 0.0}
TUNE = {"phase_current_a": 50.0}
BIKE = {
    "bike_mass_kg": 30.0,
    "rider_kg": 70.0,
    "circumference_m": 2.0,
    "rolling_coefficient": 0.01,
    "drag_area_m2": 0.5,
}
FLUX = 60 / (2 * math.pi * SQRT3 * 10 * 10)
KT = 1.5 * 10 * FLUX
RADIUS = 2.0 / (2 * math.pi)


def rig(motor=(), controller=(), pack=(), tune=(), bike=(), conditions=(), setup=()):
    """One setup; what is given is laid over the parts above, None takes a field out."""

    def over(base, more):
        return {k: v for k, v in {**base, **dict(more)}.items() if v is not None}

    tree = {
        "format": "rimforce-job-1",
        "conditions": dict(conditions),
        "motor": {"m": over(MOTOR, motor)},
        "controller": {"c": dict(controller)},
        "pack": {"p": over(PACK, pack)},
        "tune": {"t": over(TUNE, tune)},
        "bike": {"b": over(BIKE, bike)},
        "setup": [
            {
                "name": "one",
                **{kind: kind[0] for kind in ("motor", "controller", "pack", "tune", "bike")},
                **dict(setup),
            }
        ],
    }
    return parse_job(json.dumps(tree), kind="json").rigs()[0]


def at(kmh, **parts):
    """The envelope at one road speed."""
    return envelope([rig(**parts)], np.array([kmh * KMH]))


def said(drawn, j=0):
    return words(drawn.limited[0, j])


def driven_columns(drawn):
    names = ("torque", "rim_force", "shaft_power", "pack_power", "pack_voltage", "pack_current")
    names += ("phase_current", "current_d", "current_q", "efficiency")
    return [getattr(drawn, name)[0, 0] for name in names]


# --- null


def test_where_no_torque_is_left_every_column_but_three_is_null():
    # No-load speed is Kv V = 480 rpm, 57.6 km/h.
    drawn = at(60.0)
    assert np.isnan(driven_columns(drawn)).all()
    assert said(drawn) == []
    assert drawn.rotor_speed[0, 0] == pytest.approx(500 * RPM, rel=1e-12)
    assert drawn.road_force[0, 0] > 0


CEILINGS = {
    "speed cap": {"tune": {"speed_cap_kmh": 24.0}},
    "motor speed": {"motor": {"max_rpm": 200.0}},
    "electrical speed": {"controller": {"max_electrical_rpm": 2000.0}},
}


@pytest.mark.parametrize("word", CEILINGS)
def test_at_a_cap_to_1e_9_is_driven_and_lists_its_word(word):
    parts = CEILINGS[word]
    for near in (1 - 5e-10, 1.0, 1 + 5e-10):
        drawn = at(24.0 * near, **parts)
        assert not np.isnan(driven_columns(drawn)).any()
        assert said(drawn) == ["phase current", word]
    for beyond in (1 + 2e-9, 1.5):
        drawn = at(24.0 * beyond, **parts)
        assert np.isnan(driven_columns(drawn)).all()
        assert said(drawn) == [word]
    assert said(at(24.0 * (1 - 2e-9), **parts)) == ["phase current"]


def test_a_cap_that_cannot_be_driven_to_lists_nothing():
    drawn = at(60.0, tune={"speed_cap_kmh": 60.0})
    assert np.isnan(driven_columns(drawn)).all()
    assert said(drawn) == []


@pytest.mark.parametrize(
    "parts",
    [
        {"pack": {"bms_cutoff_v": 48.0}},
        {"tune": {"low_voltage_cutoff_v": 50.0}},
        {"controller": {"standby_w": 20.0}, "tune": {"power_cap_w": 19.0}},
        {"controller": {"standby_w": 20.0}, "tune": {"pack_current_a": 0.4}},
        {"controller": {"foldback_start_v": 60.0, "foldback_end_v": 50.0, "standby_w": 1.0}},
    ],
)
def test_cut_off_or_standby_above_a_limit_is_null_throughout(parts):
    drawn = envelope([rig(**parts)], np.linspace(0, 20, 21))
    assert np.isnan(drawn.torque).all()
    assert not drawn.limited.any()
    assert np.isnan(top_speed([rig(**parts)]).speed[0])


def test_zero_torque_is_a_value():
    drawn = at(20.0, controller={"standby_w": 20.0}, tune={"power_cap_w": 20.0})
    assert drawn.torque[0, 0] == 0
    assert drawn.pack_power[0, 0] == 20


def test_efficiency_is_0_at_standstill_and_null_where_nothing_is_drawn():
    assert at(0.0).efficiency[0, 0] == 0
    assert np.isnan(at(0.0, motor={"resistance_ohm": 0.0}).efficiency[0, 0])
    assert np.isnan(at(20.0, tune={"pack_current_a": 0.0}).efficiency[0, 0])
    drawn = at(20.0, motor={"no_load_torque_nm": 1.0}, controller={"standby_w": 5.0})
    w = drawn.rotor_speed[0, 0]
    expected = (50 * KT - 1) * w / (5 + 1.5 * 0.1 * 2500 + w * 50 * KT)
    # Efficiency is rotor shaft power over power at the controller's input.
    assert drawn.efficiency[0, 0] == pytest.approx(expected, rel=1e-12)


# --- standstill


def test_standstill_is_the_limit_from_above():
    motor = {"no_load_torque_nm": 1.5, "no_load_torque_nm_per_rad_s": 0.1}
    still, creeping = at(0.0, motor=motor), at(1e-9, motor=motor)
    assert still.torque[0, 0] == pytest.approx(50 * KT - 1.5, rel=1e-12)
    assert creeping.torque[0, 0] == pytest.approx(still.torque[0, 0], rel=1e-9)


# --- effective limits


def test_phase_current_is_the_least_of_tune_and_controller():
    assert at(5.0, controller={"max_phase_current_a": 30.0}).phase_current[0, 0] == 30
    assert at(5.0, controller={"max_phase_current_a": 80.0}).phase_current[0, 0] == 50


@pytest.mark.parametrize(
    "parts",
    [
        {"tune": {"pack_current_a": 9.0}},
        {"controller": {"max_pack_current_a": 9.0}},
        {"pack": {"peak_current_a": 9.0}},
    ],
)
def test_pack_current_is_the_least_of_tune_controller_and_the_packs_peak(parts):
    drawn = at(35.0, **parts)
    assert drawn.pack_current[0, 0] == pytest.approx(9.0, rel=1e-12)
    assert said(drawn) == ["pack current"]


def test_continuous_current_is_no_limit():
    drawn = at(35.0, pack={"continuous_current_a": 1.0})
    assert drawn.pack_current[0, 0] > 5


def test_never_past_half_the_short_circuit_current():
    # The most of V^2 / 4R is 288 W, of which standby takes its part.
    drawn = at(20.0, pack={"resistance_ohm": 2.0}, controller={"standby_w": 8.0})
    assert drawn.pack_power[0, 0] == pytest.approx(288.0, rel=1e-12)
    # Volts near half of V_oc show the root of what power is off by.
    assert drawn.pack_voltage[0, 0] == pytest.approx(24.0, rel=1e-7)
    assert said(drawn) == ["pack current"]


@pytest.mark.parametrize(
    "parts",
    [
        {"tune": {"low_voltage_cutoff_v": 45.0}, "pack": {"bms_cutoff_v": 40.0}},
        {"tune": {"low_voltage_cutoff_v": 40.0}, "pack": {"bms_cutoff_v": 45.0}},
    ],
)
def test_cut_off_is_the_higher_of_tune_and_bms(parts):
    parts["pack"]["resistance_ohm"] = 0.2
    drawn = at(35.0, **parts)
    assert drawn.pack_voltage[0, 0] == pytest.approx(45.0, rel=1e-12)
    assert said(drawn) == ["low-voltage cut-off"]


def test_limits_hold_at_the_controllers_input_standby_included():
    capped = {"tune": {"power_cap_w": 600.0}, "controller": {"standby_w": 25.0}}
    drawn = at(35.0, **capped)
    assert drawn.pack_power[0, 0] == pytest.approx(600.0, rel=1e-12)
    i_q, w = drawn.current_q[0, 0], drawn.rotor_speed[0, 0]
    # The controller takes its part first: what reaches the winding is the rest.
    assert 1.5 * 0.1 * i_q**2 + w * KT * i_q == pytest.approx(575.0, rel=1e-12)


def test_torque_mode_counts_i_q_alone_and_the_rating_the_whole():
    motor = {"inductance_q_uh": 600.0}
    tune = {"phase_limit": "torque", "field_weakening_a": 30.0}
    parts = {"motor": motor, "tune": tune}
    half = 200e-6  # Lq - Ld of one phase
    aligned = (math.sqrt(FLUX**2 + 4 * half**2 * 50**2) - FLUX) / (2 * half)
    drawn = at(1.0, **parts)
    assert drawn.current_q[0, 0] == pytest.approx(50.0, rel=1e-9)
    # With i_q at its limit more -i_d is more reluctance torque, up to the weakening limit.
    assert drawn.current_d[0, 0] == pytest.approx(-(30 + aligned), rel=1e-9)
    assert said(drawn) == ["phase current", "field weakening current"]
    rated = at(1.0, **parts, controller={"max_phase_current_a": 60.0})
    assert rated.phase_current[0, 0] == pytest.approx(60.0, rel=1e-9)


def test_vector_mode_budget_of_weakening_is_fixed():
    motor = {"inductance_q_uh": 600.0}
    half = 200e-6
    aligned = (math.sqrt(FLUX**2 + 8 * half**2 * 50**2) - FLUX) / (4 * half)
    # At most torque per ampere the budget is used up, and more of it would give nothing.
    low = at(1.0, motor=motor)
    assert low.current_d[0, 0] == pytest.approx(-aligned, rel=1e-9)
    assert said(low) == ["phase current"]
    # Just below no-load i_q is small, and all of the same budget still weakens.
    end = top_speed([rig(motor=motor)]).no_load_speed[0] / KMH
    high = at(end * 0.999, motor=motor)
    assert high.current_q[0, 0] < 2
    assert high.current_d[0, 0] == pytest.approx(-aligned, rel=1e-9)
    assert said(high) == ["field weakening current", "voltage"]


def test_without_mtpa_the_budget_is_the_weakening_alone():
    motor = {"inductance_q_uh": 600.0}
    drawn = at(1.0, motor=motor, controller={"mtpa": False})
    assert drawn.current_d[0, 0] == 0
    # A little more of it would give reluctance torque.
    assert said(drawn) == ["phase current", "field weakening current"]
    weak = at(57.0, motor=motor, controller={"mtpa": False}, tune={"field_weakening_a": 5.0})
    assert weak.current_d[0, 0] == pytest.approx(-5.0, rel=1e-9)


def test_low_voltage_fold_back():
    # I <= I_pack (V_oc - V_end) / (V_start - V_end + R_pack I_pack) once sag passes V_start.
    control = {"foldback_start_v": 46.0, "foldback_end_v": 42.0}
    parts = {"controller": control, "pack": {"resistance_ohm": 0.2}}
    drawn = at(35.0, **parts, tune={"pack_current_a": 20.0})
    folded = 20 * (48 - 42) / (46 - 42 + 0.2 * 20)
    assert drawn.pack_current[0, 0] == pytest.approx(folded, rel=1e-10)
    v = drawn.pack_voltage[0, 0]
    assert drawn.pack_current[0, 0] == pytest.approx(20 * (v - 42) / (46 - 42), rel=1e-9)
    assert said(drawn) == ["low-voltage cut-off"]
    # 9 A sag to 46.2 V, above the start.
    assert said(at(35.0, **parts, tune={"pack_current_a": 9.0})) == ["pack current"]


def test_fold_back_of_a_stiff_pack_without_a_rating():
    rested = {"controller": {"foldback_start_v": 60.0, "foldback_end_v": 49.0}}
    assert np.isnan(at(20.0, **rested, motor={"no_load_torque_nm": 0.1}).torque[0, 0])
    above = {"controller": {"foldback_start_v": 60.0, "foldback_end_v": 47.0}}
    assert at(20.0, **above).torque[0, 0] == pytest.approx(50 * KT, rel=1e-12)


# --- rms


def test_rms_is_root_two_times_as_many_peak_amperes():
    tune = {"phase_current_a": 20.0, "current_basis": "rms"}
    assert at(5.0, tune=tune).phase_current[0, 0] == pytest.approx(20 * SQRT2, rel=1e-12)
    rated = at(5.0, tune={**tune, "phase_current_a": 90.0}, controller={"max_phase_current_a": 30})
    assert rated.phase_current[0, 0] == pytest.approx(30 * SQRT2, rel=1e-12)
    weak = at(57.7, tune={**tune, "field_weakening_a": 10.0})
    assert weak.current_d[0, 0] == pytest.approx(-10 * SQRT2, rel=1e-9)
    # The gain is in the tune's own amperes: one of them is root two peak amperes.
    held = top_speed([rig(tune={**tune, "field_weakening_a": 2.0})])
    more = top_speed([rig(tune={**tune, "field_weakening_a": 2.001})])
    assert held.gain["kmh_per_weakening_a"][0] == pytest.approx(
        (more.speed[0] - held.speed[0]) / KMH / 1e-3, rel=1e-3
    )


# --- derating


def test_derating_multiplies_torque_in_torque_and_in_power_alone():
    motor = {"torque_derating": [[20.0, 1.0], [60.0, 0.8]]}
    drawn = at(20.0, motor=motor)
    factor = 1 - 0.2 * 30 / 40
    w = drawn.rotor_speed[0, 0]
    assert drawn.torque[0, 0] == pytest.approx(factor * 50 * KT, rel=1e-12)
    watts = 1.5 * 0.1 * 2500 + w * factor * 50 * KT
    assert drawn.pack_power[0, 0] == pytest.approx(watts, rel=1e-12)
    # Voltages are unchanged, so base speed is that of the motor without derating.
    plain, derated = (top_speed([rig(motor=m)]).base_speed[0] for m in ({}, motor))
    assert derated == pytest.approx(plain, rel=1e-9)


def test_derating_is_held_past_its_ends():
    short = {"torque_derating": [[10.0, 1.0], [30.0, 0.9]]}
    assert at(5.0, motor=short).torque[0, 0] == pytest.approx(0.9 * 50 * KT, rel=1e-12)


def test_derating_with_which_more_current_gives_less_torque_is_refused():
    with pytest.raises(JobError, match="less torque"):
        rig(motor={"torque_derating": [[20.0, 1.0], [40.0, 0.45]]})


@pytest.mark.parametrize(
    "parts",
    [
        {"setup": {"magnet_c": 520.0}, "motor": {"magnet_coefficient_per_k": -0.002}},
        {"setup": {"winding_c": -250.0}},
    ],
)
def test_no_flux_or_negative_resistance_is_an_input_error(parts):
    with pytest.raises(JobError):
        rig(**parts)


# --- wheel and road


def test_rim_force_and_mass():
    motor = {"gear_ratio": 3.0, "gear_efficiency": 0.9}
    bike = {"final_drive_ratio": 2.0, "final_drive_efficiency": 0.95, "load_kg": 15.0}
    parts = {"motor": motor, "bike": bike, "pack": {"mass_kg": 5.0}}
    drawn = at(3.0, **parts)
    expected = 50 * KT * 6.0 * (0.9 * 0.95) / RADIUS
    assert drawn.rim_force[0, 0] == pytest.approx(expected, rel=1e-12)
    assert drawn.rotor_speed[0, 0] == pytest.approx(3 * KMH / RADIUS * 6, rel=1e-12)
    still = at(0.0, **parts)
    # Rolling acts at rest too; mass is bike, pack, rider and load.
    assert still.road_force[0, 0] == pytest.approx(120 * 9.80665 * 0.01, rel=1e-12)


def test_grade_is_a_tangent_and_air_force_keeps_its_sign():
    where = {"grade_percent": 10.0, "headwind_kmh": -36.0, "altitude_m": 1000.0, "air_c": 10.0}
    drawn = at(18.0, conditions=where)
    density = 101325 * (1 - 0.0065 * 1000 / 288.15) ** 5.2558797 / (287.05287 * 283.15)
    angle = math.atan(0.1)
    weight = 100 * 9.80665
    expected = weight * (math.sin(angle) + 0.01 * math.cos(angle)) - 0.5 * density * 0.5 * 25
    assert drawn.road_force[0, 0] == pytest.approx(expected, rel=1e-12)


def test_coast_down_coefficients_take_slope_and_wind_but_no_air():
    bike = {"rolling_coefficient": None, "drag_area_m2": None, "road_load_n": [10.0, 0.5, 0.3]}
    where = {"grade_percent": -5.0, "headwind_kmh": 18.0, "altitude_m": 3000.0}
    drawn = at(36.0, bike=bike, conditions=where)
    slope = -100 * 9.80665 * math.sin(math.atan(0.05))
    assert drawn.road_force[0, 0] == pytest.approx(10 + 0.5 * 10 + 0.3 * 225 + slope, rel=1e-12)


# --- base and no-load speed


def test_base_speed_closed_form():
    # |v|^2 = (w L I)^2 + (R I + w flux)^2 = (V / sqrt 3)^2, solved for w here.
    ll, r, u = 100e-6, 0.1, 48 / SQRT3
    a, b, c = (ll * 50) ** 2 + FLUX**2, r * 50 * FLUX, (r * 50) ** 2 - u**2
    w = (-b + math.sqrt(b * b - a * c)) / a / 10
    assert top_speed([rig()]).base_speed[0] == pytest.approx(w * RADIUS, rel=1e-12)


def test_base_and_no_load_ignore_road_caps_and_ceilings():
    caps = {
        "tune": {"speed_cap_kmh": 5.0},
        "motor": {"max_rpm": 50.0},
        "controller": {"max_electrical_rpm": 100.0},
        "conditions": {"grade_percent": 60.0},
    }
    free, capped = top_speed([rig()]), top_speed([rig(**caps)])
    assert capped.base_speed[0] == free.base_speed[0]
    assert capped.no_load_speed[0] == free.no_load_speed[0]
    assert free.no_load_speed[0] == pytest.approx(480 * RPM * RADIUS, rel=1e-12)


def test_base_speed_is_null_where_voltage_never_limits():
    # 50 W and a drag of 0.05 N m per rad/s meet at 31.6 rad/s, well below Kv V of 50.3.
    parts = {"motor": {"no_load_torque_nm_per_rad_s": 0.05}, "tune": {"power_cap_w": 50.0}}
    found = top_speed([rig(**parts)])
    assert np.isnan(found.base_speed[0])
    assert found.no_load_speed[0] == pytest.approx(math.sqrt(1000) * RADIUS, rel=1e-2)


def test_base_speed_is_0_where_voltage_limits_at_rest():
    assert top_speed([rig(motor={"resistance_ohm": 2.0})]).base_speed[0] == 0


def test_no_load_speed_is_sought_to_ten_times_the_ideal():
    # Weakened without end flux falls to nothing: there is no end of torque.
    endless = {"tune": {"field_weakening_a": 1e4, "phase_current_a": 2000.0}}
    assert np.isnan(top_speed([rig(motor={"resistance_ohm": 0.0}, **endless)]).no_load_speed[0])
    # flux / (flux - L I_d) = 5: within ten times.
    amps = 0.8 * FLUX / 100e-6
    five = {"tune": {"field_weakening_a": amps, "phase_current_a": 1000.0}}
    found = top_speed([rig(motor={"resistance_ohm": 0.0}, **five)]).no_load_speed[0]
    assert found == pytest.approx(5 * 480 * RPM * RADIUS, rel=1e-9)
    # 11 times: beyond.
    amps = (1 - 1 / 11) * FLUX / 100e-6
    eleven = {"tune": {"field_weakening_a": amps, "phase_current_a": 1000.0}}
    assert np.isnan(top_speed([rig(motor={"resistance_ohm": 0.0}, **eleven)]).no_load_speed[0])


def test_no_load_speed_with_drag():
    # (V / sqrt 3 - w flux) / R amperes give T0 + c1 w, with i_d = 0 and no inductance.
    motor = {
        "inductance_d_uh": 0.0,
        "inductance_q_uh": 0.0,
        "no_load_torque_nm": 1.0,
        "no_load_torque_nm_per_rad_s": 0.02,
    }
    w = (KT * 48 / SQRT3 / 0.1 - 1.0) / (0.02 + KT * 10 * FLUX / 0.1)
    assert top_speed([rig(motor=motor)]).no_load_speed[0] == pytest.approx(w * RADIUS, rel=1e-12)


# --- top speed


def test_top_speed_is_where_force_meets_the_road():
    found = top_speed([rig()])
    v = found.speed[0]
    drawn = envelope([rig()], np.array([v]))
    assert drawn.rim_force[0, 0] == pytest.approx(drawn.road_force[0, 0], rel=1e-9)
    assert found.limited_by[0] == ("field weakening current", "voltage")


@pytest.mark.parametrize(
    "parts",
    [
        {"conditions": {"grade_percent": 60.0}},
        {"pack": {"bms_cutoff_v": 50.0}},
        {"motor": {"no_load_torque_nm": 100.0}},
        # Rider's watts do not help in starting.
        {"conditions": {"grade_percent": 60.0}, "bike": {"rider_power_w": 5000.0}},
        {"tune": {"phase_current_a": 0.0}},
    ],
)
def test_cannot_start(parts):
    found = top_speed([rig(**parts)])
    assert np.isnan(found.speed[0])
    assert found.limited_by[0] == ()


@pytest.mark.parametrize("word", CEILINGS)
def test_a_cap_or_ceiling_below_is_the_answer(word):
    found = top_speed([rig(**CEILINGS[word])])
    assert found.speed[0] == pytest.approx(24 * KMH, rel=1e-12)
    assert found.limited_by[0] == (word,)
    assert all(gain[0] == 0 for name, gain in found.gain.items() if name != "kmh_per_series_cell")


def downhill(**parts):
    conditions = {"grade_percent": -12.0}
    motor = {"no_load_torque_nm": 2.0, "no_load_torque_nm_per_rad_s": 0.05}
    motor |= {"gear_ratio": 2.0, "gear_efficiency": 0.9} | parts.pop("motor", {})
    return rig(conditions=conditions, motor=motor, **parts)


def rolls(*, clutch):
    """Speed where the hill balances rolling, air and the drag of the motor, m/s, by halving."""
    density = 101325 / (287.05287 * 293.15)
    angle = math.atan(0.12)

    def excess(v):
        w = v / RADIUS * 2
        dragged = 0 if clutch else (2 + 0.05 * w) * 2 / (RADIUS * 0.9)
        hill = 100 * 9.80665 * (math.sin(angle) - 0.01 * math.cos(angle))
        return hill - 0.25 * density * v * v - dragged

    low, high = 0.0, 200.0
    for _ in range(100):
        mid = (low + high) / 2
        low, high = (mid, high) if excess(mid) > 0 else (low, mid)
    return low


@pytest.mark.parametrize("clutch", [True, False])
def test_coasting_drags_the_no_load_torque_through_the_gears(clutch):
    found = top_speed([downhill(motor={"overrunning_clutch": clutch})])
    assert found.no_load_speed[0] < found.speed[0]
    assert found.speed[0] == pytest.approx(rolls(clutch=clutch), rel=1e-9)
    assert found.limited_by[0] == ("coasting",)


def test_a_speed_cap_does_not_hold_a_bike_that_rolls():
    found = top_speed([downhill(tune={"speed_cap_kmh": 20.0})])
    assert found.speed[0] == pytest.approx(rolls(clutch=False), rel=1e-9)
    assert found.limited_by[0] == ("coasting",)


def test_a_motor_that_gives_nothing_rolls_and_is_dragged():
    found = top_speed([downhill(pack={"bms_cutoff_v": 50.0})])
    assert found.speed[0] == pytest.approx(rolls(clutch=False), rel=1e-9)
    assert found.limited_by[0] == ("coasting",)


def test_a_hill_too_gentle_to_roll_the_dragged_motor_ends_at_no_load_speed():
    parts = {"conditions": {"grade_percent": -1.2}, "motor": {"no_load_torque_nm": 3.0}}
    found = top_speed([rig(**parts, bike={"drag_area_m2": 0.0})])
    assert found.speed[0] == pytest.approx(found.no_load_speed[0], rel=1e-12)


def test_riders_watts_help_from_1_m_s_up():
    # Balanced below 1 m/s by the motor alone, the rider never comes to help.
    slow = {
        "motor": {"resistance_ohm": 0.0},
        "tune": {"power_cap_w": 9.0},
        "bike": {"rolling_coefficient": 0.0102, "drag_area_m2": 0.0},
    }
    still = top_speed([rig(**slow)]).speed[0]
    assert still == pytest.approx(9 / (100 * 9.80665 * 0.0102), rel=1e-9)
    assert still < 1
    slow["bike"]["rider_power_w"] = 100.0
    assert top_speed([rig(**slow)]).speed[0] == pytest.approx(still, rel=1e-12)
    # A little faster, and it does: 10.2 W balance at 1.02 m/s, with 100 W more at 11.02 times that.
    slow["tune"]["power_cap_w"] = 10.2
    fast = top_speed([rig(**slow)]).speed[0]
    assert fast == pytest.approx(110.2 / (100 * 9.80665 * 0.0102), rel=1e-9)


# --- gears


def test_the_gear_with_most_force_and_the_ends_of_the_range():
    bike = {"gear_ratios": [1.0, 3.0, 2.0]}
    drawn = at(3.0, bike=bike)
    assert drawn.rim_force[0, 0] == pytest.approx(50 * KT * 3 / RADIUS, rel=1e-12)
    single = [top_speed([rig(bike={"final_drive_ratio": n})]) for n in (1.0, 3.0)]
    found = top_speed([rig(bike=bike)])
    # Base speed in the lowest gear, no-load in the highest.
    assert found.base_speed[0] == pytest.approx(single[1].base_speed[0], rel=1e-12)
    assert found.no_load_speed[0] == pytest.approx(single[0].no_load_speed[0], rel=1e-12)


@pytest.mark.parametrize("ratios", [[1.0, 1.7, 2.3], [2.3, 1.0, 1.7]])
def test_the_taller_gear_on_a_tie(ratios):
    # Without resistance the same watts are the same force in every gear.
    for kmh in np.linspace(12, 20, 23):
        drawn = at(
            kmh,
            motor={"resistance_ohm": 0.0},
            tune={"power_cap_w": 300.0, "phase_current_a": 100.0},
            bike={"gear_ratios": ratios},
        )
        assert drawn.rim_force[0, 0] == pytest.approx(300 / (kmh * KMH), rel=1e-12)
        assert drawn.rotor_speed[0, 0] == pytest.approx(kmh * KMH / RADIUS, rel=1e-12)


def test_a_gear_past_its_ceiling_is_left_for_a_taller_one():
    drawn = at(20.0, motor={"max_rpm": 200.0}, bike={"gear_ratios": [1.0, 2.0]})
    assert drawn.rotor_speed[0, 0] == pytest.approx(20 * KMH / RADIUS, rel=1e-12)
    assert not np.isnan(drawn.torque[0, 0])


# --- what goes with top speed


def test_drive_off_emf_is_at_top_speed_and_the_magnets_temperature():
    found = top_speed([rig(setup={"magnet_c": 80.0})])
    rpm = found.speed[0] / RADIUS / RPM
    kv = 10 / (1 - 0.0011 * 60)
    assert found.drive_off_emf_v[0] == pytest.approx(rpm / kv, rel=1e-12)


def test_pack_voltage_is_that_under_the_load():
    sagging = rig(pack={"resistance_ohm": 0.3})
    found = top_speed([sagging])
    drawn = envelope([sagging], found.speed)
    assert found.pack_voltage[0] == pytest.approx(drawn.pack_voltage[0, 0], rel=1e-9)
    assert found.pack_voltage[0] < 47.5


# --- no resistance: a range of equal torques


def test_with_no_resistance_a_cap_takes_the_least_current():
    motor = {"resistance_ohm": 0.0, "inductance_q_uh": 500.0}
    # A budget far above need: only the least current keeps i_d at most torque per ampere.
    parts = {"motor": motor, "tune": {"power_cap_w": 400.0, "field_weakening_a": 60.0}}
    drawn = at(25.0, **parts)
    i_d, i_q = drawn.current_d[0, 0], drawn.current_q[0, 0]
    w, half = drawn.rotor_speed[0, 0], 150e-6
    assert drawn.torque[0, 0] * w == pytest.approx(400.0, rel=1e-12)
    aligned = (math.sqrt(FLUX**2 + 8 * half**2 * (i_d**2 + i_q**2)) - FLUX) / (4 * half)
    assert -i_d == pytest.approx(aligned, rel=1e-6)
    assert said(drawn) == ["power cap"]
