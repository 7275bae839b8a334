"""Every caution: where it sets in, its number, its order; the law's figures; wire and links."""

import dataclasses
import math

import numpy as np
import pytest

from curves import load_job, parse_job
from curves.cautions import (
    CLASSES,
    SEVERITIES,
    Warmth,
    Wiring,
    cautions,
    survey,
    weakest_link,
    wire_current,
    wire_diameter,
    wire_resistance,
    wire_rise,
    wire_size,
)
from curves.cautions.wording import number
from curves.steady.balance import top_speed
from curves.steady.drive_off import drive_off
from curves.steady.envelope import envelope
from curves.units import KMH, MPH, Units
from tests.spent import loops
from tests.unit.one_rig import JOB, rig

WEAKENED = {"tune__field_weakening_a": 40.0, "tune__pack_current_a": 40.0}


def keys(which, **options):
    return [c.key for c in cautions(which, **options)]


def one(which, key, **options):
    (found,) = (c for c in cautions(which, **options) if c.key == key)
    return found


def test_a_setup_within_everything_has_only_reminders_and_what_was_not_checked():
    found = cautions(rig())
    assert {c.severity for c in found} == {"notice", "reminder"}
    assert [c.key for c in found if c.severity == "notice"] == ["unrated"]


def test_touch_voltage_sets_in_at_fifteen_cells():
    # Above 60 V DC the touch rules change (IEC 61140, IEC 60364-4-41; from memory): at 4.2 V a
    # cell 14 have 58.8 V and stay below, 15 have 63.0 V and do not (common practice).
    assert "touch-voltage" not in keys(rig(pack__series=14))
    found = one(rig(pack__series=15), "touch-voltage")
    assert (found.severity, found.limit) == ("warning", 60.0)
    assert found.value == pytest.approx(63.0, abs=15e-3)
    assert "IEC 61140" in found.source


def test_touch_voltage_is_that_of_a_full_pack_whatever_the_charge():
    assert "touch-voltage" in keys(rig(pack__series=20, setup__state_of_charge=0.0))
    source = parse_job(JOB).replace("pack.p14", {"open_circuit_v": 60.0, "resistance_ohm": 0.05})
    assert "touch-voltage" not in keys(source.rigs()[0])


def test_a_full_pack_above_the_controllers_rating_is_the_most_serious():
    found = cautions(rig(pack__series=20, controller__max_input_v=75.0))
    assert (found[0].key, found[0].severity) == ("controller-volts", "danger")
    assert "84 V" in found[0].text
    assert "75 V" in found[0].text


def test_back_emf_is_speed_over_kv_of_the_coldest_magnets():
    # rpm / Kv, Kv being lower in the cold by the magnets' coefficient (derived).
    cold = rig(conditions__air_c=-10.0, setup__magnet_c=60.0, **WEAKENED)
    facts = survey([cold])[0]
    strength = 1 - 0.0011 * (-10 - 20)
    top = top_speed([cold])
    assert facts.coldest_c == -10.0
    for speed, emf in (
        (top.speed[0], facts.top_emf),
        (top.no_load_speed[0], facts.no_load_emf),
    ):
        assert emf == pytest.approx(speed / 2.16 * 60 / 8.2 * strength, rel=1e-9)
    assert facts.top_emf > top.drive_off_emf_v[0]


def test_magnets_that_strengthen_with_heat_are_taken_hot():
    odd = rig(motor__magnet_coefficient_per_k=0.001, conditions__air_c=0.0, setup__magnet_c=60.0)
    assert survey([odd])[0].coldest_c == 60.0


def test_back_emf_above_the_pack_brakes_from_the_speed_told():
    plain = survey([rig()])[0]
    assert plain.no_load_emf < plain.rest_v
    assert "drive-off-pack" not in keys(rig())
    found = one(rig(**WEAKENED), "drive-off-pack")
    facts = survey([rig(**WEAKENED)])[0]
    assert found.limit == pytest.approx(facts.rest_v + 1.4)
    assert found.value > found.limit
    # The speed at which back-EMF is the pack's volts and two diodes (derived).
    kept = (facts.rest_v + 1.4) * 8.2 / 60 * 2.16 / KMH
    assert f"about {kept / (1 - 0.0011 * 0):.0f} km/h" in found.text


def test_how_hard_it_brakes_is_told_and_never_as_nothing():
    steep = rig(conditions__grade_percent=-15.0)
    facts, off = survey([steep])[0], drive_off([steep])
    assert facts.off_brake_force == off.brake_force[0] > 0
    assert f"{number(off.charging_current[0], 2)} A" in one(steep, "drive-off-pack").text
    # Just above the pack's volts the diodes conduct in bursts, which is not nothing.
    text = one(rolling(off.emf_v[0] / 1.05 - 1.4), "drive-off-pack").text
    assert "up to" in text
    assert " 0 A" not in text


def rolling(source_v):
    """Rolling down the same hill with a source pack of some volts."""
    job = parse_job(JOB).replace("conditions.grade_percent", -15.0)
    return job.replace("pack.p14", {"open_circuit_v": source_v, "resistance_ohm": 0.05}).rigs()[0]


def test_much_saliency_may_go_on_generating_below_the_packs_volts():
    salient = rig(conditions__grade_percent=-8.0, motor__inductance_q_uh=3000.0, pack__series=18)
    facts = survey([salient])[0]
    assert facts.top_emf < facts.rest_v
    assert "more than twice d" in one(salient, "drive-off-pack").text


def test_a_freewheel_keeps_the_bike_from_being_braked():
    free = rig(motor__overrunning_clutch=True, **WEAKENED)
    assert "drive-off-pack" not in keys(free)


def test_back_emf_against_the_controllers_rating():
    facts = survey([rig(**WEAKENED)])[0]
    between = (facts.top_emf + facts.no_load_emf) / 2
    assert one(
        rig(**WEAKENED, controller__max_input_v=between), "drive-off-controller"
    ).severity == ("warning")
    below = rig(**WEAKENED, controller__max_input_v=facts.top_emf * 0.99)
    found = one(below, "drive-off-controller")
    assert (found.severity, found.value) == ("danger", pytest.approx(facts.top_emf))
    above = rig(**WEAKENED, controller__max_input_v=facts.no_load_emf * 1.01)
    assert "drive-off-controller" not in keys(above)


def test_pack_current_steady_and_in_bursts():
    steady = survey([rig()])[0]
    curve = envelope([rig()], np.linspace(0, steady.top_speed, 200))
    assert steady.pack_a == pytest.approx(np.nanmax(curve.pack_current), rel=1e-9)
    assert steady.steady_pack_a == pytest.approx(curve.pack_current[0, -1], rel=1e-6)
    # What top speed takes, for as long as it is held.
    found = one(rig(pack__continuous_current_a=20.0), "pack-continuous")
    assert (found.severity, found.value) == (
        "warning",
        pytest.approx(curve.pack_current[0, -1], rel=1e-6),
    )
    # Hindered by its volts, it draws less at top speed than on the way.
    slow = {"pack__series": 10, "tune__low_voltage_cutoff_v": 30.0, "pack__bms_cutoff_v": 28.0}
    facts = survey([rig(**slow)])[0]
    between = (facts.steady_pack_a + facts.pack_a) / 2
    found = one(rig(**slow, pack__continuous_current_a=between), "pack-continuous")
    assert (found.severity, found.value) == ("notice", pytest.approx(facts.pack_a))
    assert "pack-continuous" not in keys(rig(**slow, pack__continuous_current_a=26.1))


def test_a_tune_above_the_packs_peak():
    assert "pack-peak" not in keys(rig(pack__peak_current_a=26.0))
    found = one(rig(pack__peak_current_a=25.0), "pack-peak")
    assert (found.severity, found.value, found.limit) == ("warning", 26.0, 25.0)
    unbound = one(rig(pack__peak_current_a=25.0, tune__pack_current_a=None), "pack-peak")
    assert "any pack current" in unbound.text


def test_a_pack_at_its_cutoff_and_a_cutoff_too_low():
    assert "empty" in keys(rig(setup__state_of_charge=0.0))
    assert "empty" not in keys(rig(setup__state_of_charge=0.5))
    low = {"tune__low_voltage_cutoff_v": 34.0, "pack__bms_cutoff_v": 34.0}
    # 14 cells are empty at 2.5 V each, 35 V (the curve of Chen et al. 2020).
    assert one(rig(**low), "deep-discharge").limit == pytest.approx(35.0, abs=0.014)
    fine = {"tune__low_voltage_cutoff_v": 35.0, "pack__bms_cutoff_v": 35.0}
    assert "deep-discharge" not in keys(rig(**fine))


@pytest.mark.parametrize(("kind", "field"), [("winding", "winding_c"), ("magnet", "magnet_c")])
def test_temperatures_against_their_limits(kind, field):
    limit = {f"motor__{kind}_limit_c": 100.0}
    for warm, settles in ((100.0, False), (100.1, True), (math.nan, False)):
        found = keys(rig(**limit), warmth=Warmth(**{field: warm}))
        assert (f"{kind}-settled" in found) == settles
    endless = one(rig(**limit), f"{kind}-settled", warmth=Warmth(**{field: math.inf}))
    assert f"the {kind} does not settle, the limit is 100 °C" in endless.text
    assert endless.value is None
    assert f"{kind}-asked" in keys(rig(**limit, **{f"setup__{field}": 101.0}))
    assert f"{kind}-asked" not in keys(rig(**limit, **{f"setup__{field}": 100.0}))
    assert f"{kind}-settled" not in keys(rig(), warmth=Warmth(**{field: 500.0}))


def test_weakening_past_the_characteristic_current():
    # λ / Ld with λ = 60 / (2π √3 p Kv) and half the terminal inductance (the model's own terms).
    flux = 60 / (2 * math.pi * math.sqrt(3) * 20 * 8.2)
    characteristic = flux / 155e-6
    facts = survey([rig(**WEAKENED)])[0]
    assert facts.characteristic_a == pytest.approx(characteristic, rel=1e-12)
    strong = {"tune__phase_current_a": 400.0, "controller__max_phase_current_a": 400.0}
    mtpa = survey([rig(**strong)])[0].weakening_a
    for budget, past in ((characteristic - mtpa - 0.1, False), (characteristic - mtpa + 0.1, True)):
        setup = rig(**strong, tune__field_weakening_a=budget)
        assert ("characteristic-current" in keys(setup)) == past


def test_no_more_weakening_than_the_phase_current_allows():
    small = rig(tune__field_weakening_a=1000.0)
    assert survey([small])[0].weakening_a == pytest.approx(75.0)


def test_saturation_beyond_what_the_motor_is_good_for():
    assert "saturation" not in keys(rig(motor__valid_to_phase_current_a=75.0))
    found = one(rig(motor__valid_to_phase_current_a=74.0), "saturation")
    assert (found.severity, found.value) == ("notice", pytest.approx(75.0))
    measured = [[0.0, 1.0], [60.0, 0.95]]
    found = one(rig(motor__torque_derating=measured), "saturation")
    assert found.limit == 60.0
    assert "saturation" not in keys(rig(motor__torque_derating=[[0.0, 1.0], [75.0, 0.95]]))


def test_rms_amperes_count_as_peak():
    found = one(rig(motor__valid_to_phase_current_a=100.0, tune__current_basis="rms"), "saturation")
    assert found.value == pytest.approx(75 * math.sqrt(2))


def test_missing_ratings_are_named():
    found = one(rig(controller__max_input_v=None, pack__peak_current_a=None), "unrated")
    for named in ("not checked, no rating given", "controller's input voltage", "peak current"):
        assert named in found.text.lower()
    assert "continuous" not in found.text
    every = {
        "motor__winding_limit_c": 130.0,
        "motor__magnet_limit_c": 100.0,
        "motor__valid_to_phase_current_a": 90.0,
    }
    assert "unrated" not in keys(rig(**every))


def test_no_class_is_assumed():
    fast = rig(pack__series=20, tune__pack_current_a=40.0)
    assert [key for key in keys(fast) if key.startswith("class")] == ["class"]
    found = one(fast, "class")
    assert found.severity == "reminder"
    for source in ("EN 15194:2017", "16 CFR 1512.2", "36 CFR 1.4", "168/2013"):
        assert source in found.source


@pytest.mark.parametrize(
    ("name", "speed", "power", "volts", "source"),
    [
        # General information; the figures as commonly cited of each rule.
        ("en-15194", 25 * KMH, 250.0, 48.0, "EN 15194:2017"),
        ("us-bicycle", 20 * MPH, 750.0, None, "16 CFR 1512.2"),
        ("us-class-1", 20 * MPH, 750.0, None, "36 CFR 1.4"),
        ("us-class-2", 20 * MPH, 750.0, None, "36 CFR 1.4"),
        ("us-class-3", 28 * MPH, 750.0, None, "36 CFR 1.4"),
        ("l1e-b", 45 * KMH, 4000.0, None, "168/2013"),
    ],
)
def test_the_figures_of_the_classes(name, speed, power, volts, source):
    kind = CLASSES[name]
    assert (kind.speed, kind.power, kind.rated_v) == (speed, power, volts)
    assert source in kind.source


def test_a_chosen_class_is_held_against_the_setup():
    slow = {"tune__speed_cap_kmh": 25.0, "tune__power_cap_w": 250.0, "pack__series": 13}
    slow |= {"tune__low_voltage_cutoff_v": 40.0}
    within = [k for k in keys(rig(**slow), road_class="en-15194") if k.startswith("class")]
    # EN 15194 counts rated volts: 13 cells are 46.8 V nominal and pass, 54.6 V full or not.
    assert within == []
    fast = [k for k in keys(rig(pack__series=14), road_class="en-15194") if k.startswith("class")]
    assert fast == ["class-speed", "class-power", "class-volts"]
    found = one(rig(), "class-speed", road_class="en-15194")
    assert "local law differs" in found.text
    assert found.limit == pytest.approx(25.0)
    mph = one(rig(), "class-speed", road_class="us-class-1", units=Units.of(["mph"]))
    assert mph.limit == pytest.approx(20.0)
    assert "20 mph" in mph.text
    with pytest.raises(KeyError):
        cautions(rig(), road_class="rocket")


def test_reminders_carry_their_numbers():
    facts = survey([rig()])[0]
    brakes = one(rig(), "brakes")
    assert brakes.value == pytest.approx(0.5 * 118.6 * facts.top_speed**2 / 1000)
    arms = one(rig(), "torque-arms")
    at_rest = envelope([rig()], np.array([0.0])).rim_force[0, 0]
    assert arms.value == pytest.approx(at_rest * 2.16 / (2 * math.pi))
    assert "backwards" not in arms.text
    assert "backwards" in one(rig(tune__regen_pack_current_a=10.0), "torque-arms").text
    braked = rig(conditions__grade_percent=-15.0)
    back = survey([braked])[0].off_brake_force * 2.16 / (2 * math.pi)
    assert f"{back:.3g} N·m backwards if the drive stops" in one(braked, "torque-arms").text
    assert "torque-arms" not in keys(rig(bike__final_drive_ratio=2.5))
    assert "UN 38.3" in one(rig(), "pack-standards").text


def test_the_worst_comes_first():
    found = cautions(rig(pack__series=24, controller__max_input_v=75.0, **WEAKENED))
    places = [SEVERITIES.index(c.severity) for c in found]
    assert places == sorted(places)
    assert set(places) == {0, 1, 2, 3}


def test_every_caution_says_why_and_where_from():
    bad = rig(
        pack__series=24,
        controller__max_input_v=75.0,
        pack__continuous_current_a=5.0,
        pack__peak_current_a=10.0,
        setup__winding_c=150.0,
        motor__winding_limit_c=130.0,
        motor__valid_to_phase_current_a=20.0,
        **WEAKENED,
    )
    found = cautions(bad, road_class="en-15194", warmth=Warmth(150.0, 50.0))
    assert len({c.key for c in found}) == len(found) >= 13
    for caution in found:
        assert caution.text.endswith(".")
        assert caution.source
        assert "nan" not in caution.text
        assert "inf" not in caution.text.split()


def test_a_setup_that_cannot_start_is_survived():
    dead = rig(tune__low_voltage_cutoff_v=90.0)
    facts = survey([dead])[0]
    assert math.isnan(facts.top_speed)
    assert facts.pack_a == 0.0
    found = cautions(dead, facts)
    assert not any("nan" in c.text for c in found)
    assert "brakes" not in [c.key for c in found]
    assert all(link.demand == link.demand for link in weakest_link(dead, facts))


def test_many_setups_at_once_are_each_by_itself():
    rigs = load_job().rigs()
    for facts, alone in zip(survey(rigs), rigs, strict=True):
        single = dataclasses.asdict(survey([alone])[0])
        for name, value in dataclasses.asdict(facts).items():
            if isinstance(value, float):
                assert value == pytest.approx(single[name], rel=1e-9, nan_ok=True), name
            else:
                assert value == single[name]
    assert survey(()) == ()


def test_gears_and_clutch_turn_the_rotor_as_they_should():
    geared = parse_job(
        JOB.replace("drag_area_m2 = 0.60", "drag_area_m2 = 0.60\ngear_ratios = [2.0, 1.0, 1.4]")
    ).rigs()[0]
    facts, top = survey([geared])[0], top_speed([geared])
    assert facts.top_emf == pytest.approx(top.drive_off_emf_v[0], rel=1e-9)
    assert facts.no_load_rotor_speed == pytest.approx(
        top.no_load_speed[0] * 2 * math.pi / 2.16, rel=1e-12
    )
    downhill = {"conditions__grade_percent": -12.0}
    dragged = survey([rig(**downhill)])[0]
    assert dragged.coasts
    assert dragged.top_rotor_speed > dragged.no_load_rotor_speed
    freed = survey([rig(**downhill, motor__overrunning_clutch=True)])[0]
    assert freed.coasts
    assert freed.top_rotor_speed == pytest.approx(freed.no_load_rotor_speed)


def test_downhill_the_back_emf_counts_too():
    steep = rig(conditions__grade_percent=-15.0)
    assert "drive-off-pack" in keys(steep)
    assert one(steep, "drive-off-pack").severity == "warning"


def test_quick_enough_for_every_edit():
    # 2 ms a setup, on a machine whose loop takes 13; five times that was granted by the clock.
    rigs = load_job().rigs()
    top = top_speed(rigs)

    def once():
        for which, facts in zip(rigs, survey(rigs, top), strict=True):
            cautions(which, facts)

    assert loops(once, tries=5) < 2 / 13 * len(rigs)


@pytest.mark.parametrize(
    ("awg", "per_1000_ft"),
    [(4, 0.2485), (8, 0.6282), (10, 0.9989), (12, 1.588), (14, 2.525)],
)
def test_wire_resistance_of_astm_b258(awg, per_1000_ft):
    # ASTM B258 Ω per 1000 ft at 20 °C, met to a digit in the last place printed: the table takes
    # copper's resistivity as 10.371 Ω·cmil/ft, IEC 60028 as 1/58 Ω·mm²/m.
    found = wire_resistance(awg) * 304.8
    assert found == pytest.approx(per_1000_ft, rel=5e-4)


def test_wire_diameters_of_astm_b258():
    # The standard's two fixed sizes: 36 is 5 mil, 0000 is 460 mil.
    assert wire_diameter(36) == pytest.approx(0.005 * 25.4, rel=1e-12)
    assert wire_diameter(-3) == pytest.approx(0.46 * 25.4, rel=1e-12)
    for wrong in (-4, 41):
        with pytest.raises(ValueError, match="0000"):
            wire_diameter(wrong)


@pytest.mark.parametrize(
    ("text", "awg"), [("10", 10), ("0", 0), ("00", -1), ("2/0", -1), ("4/0", -3), (" 0000 ", -3)]
)
def test_wire_sizes_as_people_write_them(text, awg):
    assert wire_size(text) == awg


@pytest.mark.parametrize("text", ["", "ten", "5/0", "00000", "41", "-2", "1/2", "0/0"])
def test_wire_sizes_there_are_not(text):
    with pytest.raises(ValueError, match="no wire size"):
        wire_size(text)


def test_a_warm_wire_and_its_current_are_inverse():
    for awg, air in ((4, -10.0), (10, 20.0), (16, 45.0)):
        amperes = wire_current(awg, 40.0, air)
        assert wire_rise(awg, amperes, air) == pytest.approx(40.0, rel=1e-12)
        # Heat made is heat given off (derived): I² R of the warm wire over its covered surface.
        made = amperes**2 * wire_resistance(awg, air + 40)
        assert made == pytest.approx(10.0 * math.pi * 2 * wire_diameter(awg) / 1000 * 40, rel=1e-12)
    assert wire_rise(20, 1000.0) == math.inf
    assert wire_rise(10, 0.0) == 0.0


def test_the_weakest_link_is_marked_and_first():
    wiring = Wiring(
        cell_current_a=8.0, fuse_a=30.0, connector_a=45.0, pack_wire_awg=12, phase_wire_awg=12
    )
    found = weakest_link(rig(), wiring=wiring)
    loads = [link.load for link in found]
    assert loads == sorted(loads, reverse=True)
    assert [link.weakest for link in found] == [True] + [False] * (len(found) - 1)
    by_part = {link.part: link for link in found}
    assert by_part["fuse"].load == pytest.approx(26 / 30)
    assert by_part["cells, 4 parallel"].rating == 32.0
    assert by_part["controller, phase side"].load == pytest.approx(75 / 120)
    # A phase carries 75 A peak, 53 A rms.
    phase = by_part["phase leads, AWG 12"]
    assert phase.demand == pytest.approx(75 / math.sqrt(2))
    assert phase.rating == pytest.approx(wire_current(12, 40.0, 20.0))
    assert phase.weakest


def test_links_without_data_are_left_out():
    bare = rig(
        controller__max_phase_current_a=None,
        controller__max_pack_current_a=None,
        pack__continuous_current_a=None,
        pack__peak_current_a=None,
    )
    assert weakest_link(bare) == ()
    assert [link.part for link in weakest_link(bare, wiring=Wiring(fuse_a=30.0))] == ["fuse"]


def test_links_compare_rms_with_rms():
    for basis in ("peak", "rms"):
        found = weakest_link(rig(tune__current_basis=basis))
        (phase,) = (link for link in found if link.part == "controller, phase side")
        assert (phase.demand, phase.rating) == (pytest.approx(75.0), 120.0)
        assert basis in phase.basis
