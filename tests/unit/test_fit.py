"""Does it fit: each rating alone, at it, just past it, and absent."""

import math

import numpy as np
import pytest

from curves import parse_job
from curves.cautions import fit, plausible, survey
from curves.steady.balance import top_speed
from curves.units import KMH, RPM, Units
from tests.unit.one_rig import JOB, rig


def status(found, key):
    (reason,) = (r for r in found.reasons if r.key == key)
    return reason.status


def test_all_within_its_ratings_fits():
    found = fit(rig())
    assert found.verdict == "fits"
    assert found.against == ()
    assert found.unchecked == ()
    assert {r.status for r in found.reasons} == {"holds"}


@pytest.mark.parametrize(
    ("change", "key", "expected", "verdict"),
    [
        # Full at 4.2 V a cell, 14 cells have 58.8 V and 20 have 84.0 V (common practice).
        ({"controller__max_input_v": 58.8}, "controller-volts", "holds", "fits"),
        ({"controller__max_input_v": 58.7}, "controller-volts", "breaks", "does not fit"),
        ({"pack__series": 22}, "controller-volts", "breaks", "does not fit"),
        ({"pack__series": 21}, "controller-volts", "holds", "fits"),
        ({"controller__max_phase_current_a": 75.0}, "controller-phase", "holds", "fits"),
        (
            {"controller__max_phase_current_a": 74.9},
            "controller-phase",
            "change",
            "fits with changes",
        ),
        ({"controller__max_pack_current_a": 26.0}, "controller-current", "holds", "fits"),
        (
            {"controller__max_pack_current_a": 25.9},
            "controller-current",
            "change",
            "fits with changes",
        ),
        ({"pack__peak_current_a": 26.0}, "pack-current", "holds", "fits"),
        ({"pack__peak_current_a": 25.9}, "pack-current", "change", "fits with changes"),
        ({"tune__low_voltage_cutoff_v": 38.0}, "cutoff-order", "holds", "fits"),
        ({"tune__low_voltage_cutoff_v": 37.9}, "cutoff-order", "change", "fits with changes"),
        ({"tune__low_voltage_cutoff_v": None}, "cutoff-order", "change", "fits with changes"),
        ({"tune__low_voltage_cutoff_v": 58.0}, "cutoff-below-full", "holds", "fits"),
        # Above the full pack's volts it never drives: a setup that cannot start fits nothing.
        ({"tune__low_voltage_cutoff_v": 60.0}, "cutoff-below-full", "change", "does not fit"),
        ({"pack__bms_cutoff_v": 60.0}, "bms-below-full", "breaks", "does not fit"),
    ],
)
def test_each_rating_at_it_and_past_it(change, key, expected, verdict):
    found = fit(rig(**change))
    assert status(found, key) == expected
    assert found.verdict == verdict


@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [(50.0, 43.0, "holds"), (42.0, 41.0, "change"), (59.0, 45.0, "change"), (70.0, 60.0, "change")],
)
def test_foldback_lies_between_full_and_cutoff(start, end, expected):
    job = parse_job(JOB)
    controller = job.tree()["controller"]["sine"]
    job = job.replace(
        "controller.sine", {**controller, "foldback_start_v": start, "foldback_end_v": end}
    )
    assert status(fit(job.rigs()[0]), "foldback") == expected


def test_foldback_above_the_bms_replaces_a_cutoff():
    job = parse_job(JOB).replace("tune.town.low_voltage_cutoff_v", None)
    controller = job.tree()["controller"]["sine"]
    job = job.replace(
        "controller.sine", {**controller, "foldback_start_v": 45.0, "foldback_end_v": 40.0}
    )
    assert status(fit(job.rigs()[0]), "cutoff-order") == "holds"


def test_electrical_speed_at_top_speed_and_with_the_wheel_off_the_ground():
    plain = rig()
    top = top_speed([plain])
    turns = np.array([top.speed[0], top.no_load_speed[0]]) / 2.16
    rpm = turns * 60 * 20
    between = float(rpm.mean())
    found = fit(rig(controller__max_electrical_rpm=between))
    assert status(found, "electrical-speed-top") == "holds"
    assert status(found, "electrical-speed-no-load") == "change"
    # Held there by the ceiling, which counts as reached.
    found = fit(rig(controller__max_electrical_rpm=float(rpm[0]) * 0.9))
    assert status(found, "electrical-speed-top") == "change"
    (reason,) = (r for r in fit(plain).reasons if r.key == "electrical-speed-top")
    assert reason.value == pytest.approx(rpm[0], rel=1e-9)
    assert reason.limit == 60000.0


def test_a_speed_cap_keeps_the_motor_below_its_ceiling():
    free = survey([rig()])[0]
    rpm = free.no_load_rotor_speed / RPM
    assert status(fit(rig(motor__max_rpm=0.9 * rpm)), "rotor-speed") == "change"
    cap = 0.8 * free.no_load_speed / KMH
    capped = rig(motor__max_rpm=0.9 * rpm, tune__speed_cap_kmh=cap)
    assert status(fit(capped), "rotor-speed") == "holds"


def test_the_cure_of_a_ceiling_cures_it():
    rpm = survey([rig()])[0].no_load_rotor_speed / RPM
    (reason,) = (r for r in fit(rig(motor__max_rpm=0.9 * rpm)).reasons if r.key == "rotor-speed")
    cap = float(reason.text.split("speed cap of ")[1].split()[0])
    assert fit(rig(motor__max_rpm=0.9 * rpm, tune__speed_cap_kmh=cap)).verdict == "fits"


def test_a_power_cap_limits_what_is_asked_of_the_pack():
    # 1200 W at a cut-off of 42 V is 28.57 A (derived: division).
    facts = survey([rig(tune__pack_current_a=None, tune__power_cap_w=1200.0)])[0]
    assert facts.asked_pack_a == pytest.approx(1200 / 42, rel=1e-12)
    changes = {"tune__pack_current_a": None, "tune__power_cap_w": 1200.0}
    assert fit(rig(**changes, pack__peak_current_a=28.6)).verdict == "fits"
    assert fit(rig(**changes, pack__peak_current_a=28.5)).verdict == "fits with changes"


def test_a_tune_without_pack_limits_leans_on_the_pack_only_if_it_gets_there():
    found = fit(rig(tune__pack_current_a=None))
    assert status(found, "pack-current") == "change"
    assert "sets no pack current" in found.against[0].text
    weak = fit(rig(tune__pack_current_a=None, tune__phase_current_a=20.0))
    assert status(weak, "pack-current") == "holds"


def test_amperes_are_compared_in_the_tunes_basis():
    # The controller's rating holds in the tune's basis, so rms or peak the comparison is the same.
    for basis in ("peak", "rms"):
        changes = {"tune__current_basis": basis, "controller__max_phase_current_a": 70.0}
        (reason,) = (r for r in fit(rig(**changes)).reasons if r.key == "controller-phase")
        assert (reason.status, reason.value, reason.limit) == ("change", 75.0, 70.0)
        assert f"75 A {basis}" in reason.text


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"controller__max_input_v": None}, "controller-volts"),
        ({"controller__max_phase_current_a": None}, "controller-phase"),
        ({"controller__max_pack_current_a": None}, "controller-current"),
        ({"controller__max_electrical_rpm": None}, "electrical-speed"),
        ({"pack__peak_current_a": None}, "pack-current"),
        ({"pack__bms_cutoff_v": None}, "cutoff-order"),
        ({"motor__max_rpm": None}, "rotor-speed"),
    ],
)
def test_what_has_no_rating_is_said_and_not_passed(change, key):
    found = fit(rig(**change))
    assert status(found, key) == "not checked"
    assert [r.key for r in found.unchecked] == [key]
    assert "no rating given" in found.unchecked[0].text


def test_the_worst_comes_first():
    found = fit(rig(controller__max_input_v=50.0, pack__peak_current_a=20.0, motor__max_rpm=None))
    order = ["breaks", "change", "not checked", "holds"]
    places = [order.index(r.status) for r in found.reasons]
    assert places == sorted(places)
    assert set(places) == {0, 1, 2, 3}
    assert found.verdict == "does not fit"


def test_a_source_pack_is_judged_by_its_full_charge():
    job = parse_job(JOB)
    source = {"open_circuit_v": 85.0, "resistance_ohm": 0.05}
    assert fit(job.replace("pack.p14", source).rigs()[0]).verdict == "fits"
    full = {**source, "full_charge_v": 91.0}
    assert fit(job.replace("pack.p14", full).rigs()[0]).verdict == "does not fit"


def test_a_setup_that_does_not_drive_gets_its_verdict():
    found = fit(rig(tune__low_voltage_cutoff_v=70.0))
    assert found.verdict == "does not fit"
    assert status(found, "electrical-speed-top") == "not checked"
    start, cutoff = found.against
    assert start.text.startswith("It cannot start: the pack rests at 58.8 V, its cut-off is 70 V.")
    assert "never drives" in cutoff.text


def test_kv_is_put_as_a_speed_that_can_be_looked_at():
    # 8.2 rpm/V · 0.95 · 58.8 V on a roll-out of 2.16 m; √2 and √3 less (derived).
    road = 8.2 * 0.95 * 58.8 * 2.16 * 60 / 1000
    said = plausible(rig(), survey([rig()])[0])
    for speed in (road, road / math.sqrt(2), road / math.sqrt(3)):
        assert f"{speed:.0f} km/h" in said
    assert "58.8 V" in said
    assert "75 A peak is 53 A rms" in said
    assert f"{road / 1.609344:.0f} mph" in plausible(rig(), survey([rig()])[0], Units.of(["mph"]))


def test_a_motor_weakened_without_end_is_told():
    # Flux below what the weakening takes away, and no drag: the textbook's infinite speed.
    endless = {
        "motor__inductance_q_uh": 1500.0,
        "motor__inductance_d_uh": 1500.0,
        "motor__resistance_ohm": 0.0,
        "motor__no_load_torque_nm": 0.0,
        "motor__no_load_torque_nm_per_rad_s": 0.0,
        "tune__field_weakening_a": 75.0,
    }
    assert math.isnan(survey([rig(**endless)])[0].no_load_speed)
    found = fit(rig(**endless))
    assert status(found, "rotor-speed") == status(found, "electrical-speed-no-load") == "change"
    assert "nothing holds the motor" in found.against[0].text
    assert fit(rig(**endless, tune__speed_cap_kmh=45.0)).verdict == "fits"


def test_field_weakening_leaves_the_kv_line_alone():
    weakened = rig(tune__field_weakening_a=40.0)
    assert plausible(weakened, survey([weakened])[0]) == plausible(rig(), survey([rig()])[0])


def test_numbers_carry_their_source():
    (reason,) = (r for r in fit(rig()).reasons if r.key == "controller-volts")
    assert reason.source == "[controller] max_input_v in the job"
    told = rig(controller__source="maker: its data sheet")
    (reason,) = (r for r in fit(told).reasons if r.key == "controller-volts")
    assert reason.source.endswith("(maker: its data sheet)")
