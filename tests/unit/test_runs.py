"""Timed runs: both integrators, energy, gears, grip, and what is never reached."""

from dataclasses import replace

import numpy as np
import pytest

from curves import load_job, load_profile
from curves.motion.runs import (
    RUN_WORDS,
    Targets,
    coupled_runs,
    motion,
    power_ceiling,
    repeated_runs,
    riding,
    same_pack_power,
    timed_runs,
    trace,
)
from curves.motion.runs.repeated import cooled
from curves.motion.state import thermal
from curves.setups.stack import stack
from curves.units import FOOT, MPH
from tests.runs_cases import constant_force, rigs

SPLITS = ("speed_time", "speed_distance", "distance_time", "distance_speed", "trap_speed")
AGREE_S = 1e-4
"""What both ways have to agree by, s."""
FASTEST, HARDEST = 20.0, 5.0
"""No run here passes this speed, m/s, or acceleration, m/s2, so this is what a time is worth."""
PAID = ("cells", "rider")
SHORT = Targets(speeds=(8.0,), distances=(60 * FOOT,))
"""Enough to see how a run goes."""


def demo(*names):
    job = load_job(None)
    return [job.rig(name) for name in names]


def changed(rig, **tables):
    """A rig with fields of its parts replaced."""
    parts = {name: getattr(rig, name).model_copy(update=new) for name, new in tables.items()}
    return replace(rig, **parts)


def mid_drive(**bike):
    (rig,) = demo("16 cells")
    motor = load_profile("demo-mid-drive").model_copy(update={"rotor_inertia_kg_m2": 1e-4})
    gears = {"gear_ratios": (2.8, 1.9, 1.3, 0.9), "final_drive_ratio": None}
    return changed(replace(rig, motor=motor), bike={**gears, "wheel_inertia_kg_m2": 0.4, **bike})


def assert_same(fast, slow):
    for name in SPLITS:
        a, b = getattr(fast, name), getattr(slow, name)
        worth = {"speed_distance": FASTEST, "distance_speed": HARDEST, "trap_speed": HARDEST}
        assert np.array_equal(np.isnan(a), np.isnan(b)), name
        assert np.nanmax(np.append(np.abs(a - b), 0.0)) < AGREE_S * worth.get(name, 1.0), name


def balance(ridden):
    """Energy that is not accounted for, over what came in."""
    paid = sum(ridden.energy[name] for name in PAID)
    spent = sum(x for name, x in ridden.energy.items() if name not in PAID)
    return (paid - spent) / paid


@pytest.mark.parametrize(
    ("rise", "rider", "grade"),
    [(None, 0.0, 0.0), (0.8, 0.0, 5.0), (0.8, 120.0, 0.0), (6.0, 120.0, 5.0)],
)
def test_both_ways_agree_while_the_state_is_held(rise, rider, grade):
    setups = [
        changed(
            rig,
            controller={"torque_rise_s": rise},
            bike={"rider_power_w": rider},
            conditions={"grade_percent": grade},
        )
        for rig in demo("20 cells, cap lifted", "13 cells, weakened")
    ]
    targets = Targets(roll_out=FOOT if rider else 0.0)
    assert_same(timed_runs(setups, targets), coupled_runs(setups, targets, moving=False).runs)


@pytest.mark.parametrize("shift_s", [0.0, 0.3])
def test_both_ways_agree_through_gears(shift_s):
    setups = [mid_drive()]
    fast = timed_runs(setups, shift_s=shift_s)
    assert_same(fast, coupled_runs(setups, shift_s=shift_s, moving=False).runs)
    if shift_s:
        assert np.all(fast.distance_time > timed_runs(setups).distance_time)


def test_best_gear_is_never_slower_than_one():
    free = timed_runs([mid_drive()])
    one = timed_runs([mid_drive(gear_ratios=(1.3,))])
    assert np.all(free.distance_time <= one.distance_time)


@pytest.mark.parametrize(
    ("conditions", "bike"),
    [
        ({}, {"wheel_inertia_kg_m2": 0.2}),
        ({"grade_percent": 4.0, "headwind_kmh": 12.0}, {"rider_power_w": 90.0}),
        # A short bike whose front wheel would lift: below the envelope at first.
        ({}, {"cg_height_m": 1.5, "cg_to_rear_axle_m": 0.25}),
    ],
)
def test_energy_from_the_pack_is_all_accounted_for(conditions, bike):
    setups = [
        changed(r, conditions=conditions, bike=bike)
        for r in demo("20 cells, cap lifted", "13 cells")
    ]
    ridden = coupled_runs(setups, Targets(speeds=(), distances=(100.0,)))
    assert np.abs(balance(ridden)).max() < 1e-6
    assert all(np.all(x >= 0) for x in ridden.energy.values())


def test_state_moves_along_the_run():
    setups = demo("20 cells, cap lifted")
    ridden, held = coupled_runs(setups), timed_runs(setups)
    assert ridden.charge[0] < 1
    assert ridden.winding_c[0] > ridden.case_c[0] > 20
    # An emptier pack and a hotter winding are slower, by little.
    late = ridden.runs.distance_time - held.distance_time
    assert np.all((late > 0) & (late < 0.03 * held.distance_time))
    charge = ridden.energy["cells"][0] / (stack(setups).batch().drive.open_circuit_v[0, 0])
    # Open-circuit volts fall on the way, so the cells give a little less per coulomb.
    coulombs = (1 - ridden.charge[0]) * 3 * 4.8 * 3600
    assert charge == pytest.approx(coulombs, rel=0.02)


def test_front_wheel_lift_holds_the_force():
    (rig,) = [
        changed(r, bike={"cg_height_m": 1.5, "cg_to_rear_axle_m": 0.15, "tyre_grip": 0.9})
        for r in demo("20 cells, cap lifted")
    ]
    ridden = coupled_runs([rig], Targets(speeds=(), distances=(150.0,)))
    seen = trace(stack([rig]), ridden, np.array([0.5, 15.0]))
    weight = stack([rig]).batch().road.mass[0, 0] * 9.80665
    assert seen.rim_force[0, 0] == pytest.approx(weight * 0.15 / 1.5, rel=1e-12)
    assert [w for w, holds in zip(RUN_WORDS, seen.bound[0, 0], strict=True) if holds] == [
        "front wheel lift"
    ]
    assert not seen.bound[0, 1, RUN_WORDS.index("front wheel lift")]
    free = timed_runs(demo("20 cells, cap lifted"))
    assert np.all(timed_runs([rig]).distance_time > free.distance_time)


def test_cannot_start():
    stuck = [changed(demo("13 cells")[0], conditions={"grade_percent": 30.0})]
    for runs in (timed_runs(stuck), coupled_runs(stuck).runs):
        assert np.isnan(runs.speed_time).all()
        assert np.isnan(runs.distance_time).all()
        assert np.isnan(runs.end_speed[0])
        assert runs.notes[0][0].startswith("The bike cannot start here: its force is")


def test_a_speed_never_reached_says_so():
    got = timed_runs(demo("as delivered"))
    assert np.isnan(got.speed_time[0, 1])
    assert not np.isnan(got.distance_time).any()
    assert got.notes[0] == ("It never reaches 48.3 km/h (30.0 mph): it tends to 36.9 km/h.",)


def test_speed_cap_is_reached_and_held():
    capped = [changed(demo("13 cells")[0], tune={"speed_cap_kmh": 20 * MPH * 3.6})]
    got = timed_runs(capped, Targets(speeds=(20 * MPH, 20.1 * MPH)))
    assert got.speed_time[0, 0] == pytest.approx(
        timed_runs(demo("13 cells")).speed_time[0, 0], abs=1e-6
    )
    assert np.isnan(got.speed_time[0, 1])
    assert got.distance_speed[0, -1] == pytest.approx(20 * MPH, rel=1e-12)
    left = (got.distance_time[0, 2] - got.distance_time[0, 1]) * 20 * MPH
    assert left == pytest.approx(660 * FOOT, rel=1e-9)
    ridden = coupled_runs(capped, got.targets, moving=False)
    assert_same(got, ridden.runs)
    assert abs(balance(ridden)[0]) < 1e-6
    seen = trace(stack(capped), ridden, np.array([40.0]))
    assert seen.rim_force[0, 0] == pytest.approx(seen.road_force[0, 0])
    assert [w for w, holds in zip(RUN_WORDS, seen.bound[0, 0], strict=True) if holds] == [
        "speed cap"
    ]


@pytest.mark.parametrize("mph", range(12, 28))
def test_a_speed_cap_is_reached_whatever_its_digits(mph):
    cap = mph * MPH
    capped = [changed(demo("13 cells")[0], tune={"speed_cap_kmh": cap * 3.6})]
    assert not np.isnan(timed_runs(capped, Targets(speeds=(cap,))).speed_time).any()


def test_an_ideal_motor_runs_up_to_its_cliff():
    # No resistance, no inductance: full force to the no-load speed and none beyond it.
    setup = rigs(
        pack="open_circuit_v = 20.0\nresistance_ohm = 0.0", tune="phase_current_a = 2000.0"
    )
    targets = Targets(speeds=(50.0,), distances=(2000.0,))
    assert_same(timed_runs(setup, targets), coupled_runs(setup, targets).runs)


def test_a_gear_that_only_slows_the_bike_is_not_taken():
    # Up 10 % against a headwind the second gear ends at the rotor's ceiling; the third cannot pull.
    setups = [
        changed(
            mid_drive(),
            motor={"max_rpm": 4000.0},
            conditions={"grade_percent": 10.0, "headwind_kmh": 15.0},
        )
    ]
    fast = timed_runs(setups, shift_s=0.2)
    assert fast.end_speed[0] < 5.0
    assert_same(fast, coupled_runs(setups, shift_s=0.2, moving=False).runs)


def test_rolling_downhill_goes_past_what_is_driven():
    steep = [changed(demo("as delivered")[0], conditions={"grade_percent": -8.0})]
    fast = timed_runs(steep, Targets(speeds=(10.0, 12.0), distances=(300.0,)))
    assert fast.end_speed[0] > 12.0
    slow = coupled_runs(steep, fast.targets, moving=False).runs
    assert_same(fast, slow)


def test_thousand_setups_are_the_same_as_one_by_one():
    few = demo("13 cells", "20 cells, cap lifted", "as delivered")
    many = timed_runs([few[k % 3] for k in range(1000)])
    for k, rig in enumerate(few):
        one = timed_runs([rig])
        for name in SPLITS:
            assert np.allclose(
                getattr(many, name)[k::3], getattr(one, name), rtol=0, atol=1e-9, equal_nan=True
            )


def test_torque_rise_delays_by_half_of_itself_at_constant_force():
    # While force rises in proportion to time, half of the impulse of that time is missing.
    (plain,) = constant_force(400.0)
    risen = changed(plain, controller={"torque_rise_s": 1.0})
    targets = Targets(speeds=(10.0,), distances=())
    late = timed_runs([risen], targets).speed_time - timed_runs([plain], targets).speed_time
    assert late[0, 0] == pytest.approx(0.5, abs=1e-9)


@pytest.mark.parametrize("bad", [{"speeds": (0.0,)}, {"distances": (-1.0,)}, {"roll_out": -1.0}])
def test_targets_are_above_zero(bad):
    with pytest.raises(ValueError, match="above 0"):
        Targets(**bad)


def test_shift_time_is_not_negative():
    with pytest.raises(ValueError, match="shift time"):
        timed_runs(demo("13 cells"), shift_s=-0.1)


def test_same_pack_power():
    job = load_job(None).rigs()
    ceilings = power_ceiling(stack(job).batch())
    same = same_pack_power(job)
    assert {rig.tune.power_cap_w for rig in same} == {ceilings.min()}
    assert power_ceiling(stack(same).batch()) == pytest.approx(ceilings.min(), rel=1e-9)
    assert all(rig.tune.power_cap_w == 900.0 for rig in same_pack_power(job, 900.0))
    with pytest.raises(ValueError, match="above 0 W"):
        same_pack_power(job, -1.0)
    assert same_pack_power(()) == ()


def test_equal_watts_leave_tenths_of_a_second_between_packs():
    # A fact of the trade (common practice, no source), at 20 mph with 48, 52 and 72 V packs.
    def courier(series, parallel, cap):
        return rigs(
            motor="kv_rpm_per_v = 6.25\nresistance_ohm = 0.12\npole_pairs = 20\n"
            "inductance_d_uh = 250.0\ninductance_q_uh = 250.0\nno_load_torque_nm = 0.7",
            controller="max_modulation = 0.92",
            pack=f'cell = "nmc-21700"\nseries = {series}\nparallel = {parallel}\n'
            "cell_resistance_mohm = 30.0\nmass_kg = 5.0",
            tune="phase_current_a = 90.0\n" + (f"power_cap_w = {cap}" if cap else ""),
            bike="bike_mass_kg = 30.0\nrider_kg = 80.0\ncircumference_m = 2.1\n"
            "rolling_coefficient = 0.01\ndrag_area_m2 = 0.6\nwheel_inertia_kg_m2 = 0.2",
        )[0]

    setups = [
        courier(13, 5, 1500),
        courier(14, 5, 1500),
        courier(20, 3, 1500),
        courier(20, 3, None),
    ]
    setups = [replace(rig, state_of_charge=0.4) for rig in setups]
    v48, v52, v72, lifted = timed_runs(setups).speed_time[:, 0]
    assert v48 > v52 > v72
    assert 0.1 < v48 - v72 < 1.0
    assert v72 - lifted > 2 * (v48 - v72)


def test_repeated_runs_warm_up():
    got = repeated_runs(demo("20 cells, cap lifted"), 100.0, 30.0, 3)
    assert np.all(np.diff(got.time[0]) > 0)
    assert np.all(np.diff(got.winding_c[0]) > 0)
    assert np.all(np.diff(got.charge[0]) < 0)
    assert np.isnan(got.over_limit[0])
    with pytest.raises(ValueError, match="one run or more"):
        repeated_runs(demo("13 cells"), 100.0, 30.0, 0)


def test_cooling_is_the_exact_two_node_solution():
    from scipy.integrate import solve_ivp

    heat = thermal(stack(demo("13 cells")))
    zero = np.zeros(1)

    def rates(_, y):
        return np.concatenate(heat.rates(zero, zero, zero, y[:1], y[1:]))

    slow = solve_ivp(rates, (0, 600.0), [120.0, 60.0], rtol=1e-10, atol=1e-10).y[:, -1]
    fast = np.concatenate(cooled(heat, np.array([120.0]), np.array([60.0]), 600.0))
    assert fast == pytest.approx(slow, abs=1e-6)


def held_fast(**heat):
    """A motor whose case follows its winding within hundredths of a second or less."""
    (rig,) = demo("20 cells, cap lifted")
    values = {"winding_heat_j_per_k": 660.0, "case_heat_j_per_k": 3.0}
    return changed(rig, motor={**values, "winding_to_case_w_per_k": 100.0, **heat})


def test_an_implicit_method_gives_the_same_splits(monkeypatch):
    rig = held_fast()
    implicit = coupled_runs([rig], SHORT)
    monkeypatch.setattr(motion, "STIFF_PER_S", np.inf)
    explicit = coupled_runs([rig], SHORT)
    assert_same(implicit.runs, explicit.runs)
    assert implicit.winding_c == pytest.approx(explicit.winding_c, abs=1e-4)
    assert implicit.ride.looks < explicit.ride.looks


@pytest.mark.parametrize(
    "heat",
    [
        {"case_heat_j_per_k": 1.0, "winding_to_case_w_per_k": 1e4},
        {"case_heat_j_per_k": 1e-9, "winding_to_case_w_per_k": 1e9},
        {"winding_heat_j_per_k": 1e-9, "winding_to_case_w_per_k": 1e9},
    ],
    ids=["hard", "no case", "no winding"],
)
def test_runs_of_any_legal_heat_values_end_within_a_bound_of_looks(heat):
    got = coupled_runs([held_fast(**heat)], SHORT, accuracy=1e-6)
    assert got.ride.looks < riding.MOST_LOOKS / 2
    assert got.runs.notes == ((),)
    assert np.isfinite(got.runs.distance_time).all()


def test_a_run_that_cannot_be_followed_says_so_and_ends_no_other(monkeypatch):
    calm, restless = demo("13 cells", "20 cells")
    restless = replace(restless, name="restless")
    looks, rates = {"restless": 0}, motion.Motion.rates

    def jumping(self, time, y, mode):
        found = rates(self, time, y, mode)
        if "restless" in self.stacked.names:
            looks["restless"] += 1
            column = self.stacked.names.index("restless")
            found[3, column] = 1e6 * (-1) ** looks["restless"]
        return found

    monkeypatch.setattr(motion.Motion, "rates", jumping)
    monkeypatch.setattr(riding, "MOST_LOOKS", 900)
    got = coupled_runs([calm, restless], SHORT)
    assert riding.TOO_ABRUPT in got.runs.notes[1][0]
    assert np.isnan(got.runs.distance_time[1]).any()
    alone = coupled_runs([calm], SHORT)
    assert_same(alone.runs, replace(got.runs, **{n: getattr(got.runs, n)[:1] for n in SPLITS}))
    assert got.runs.notes[0] == alone.runs.notes[0]
    drawn = trace(stack([calm, restless]), got, np.array([0.0, 1.0]))
    assert np.isfinite(drawn.speed).all()


def test_cooling_of_two_nodes_held_as_one():
    rig = held_fast(case_heat_j_per_k=1e-9, winding_to_case_w_per_k=1e9)
    heat = thermal(stack([rig]))
    got = cooled(heat, np.array([120.0]), np.array([120.0]), 600.0)
    left = np.exp(-heat.case_to_air * 600.0 / heat.winding_heat)
    air = heat.air_c
    # A flow of some watts per kelvin through one of 1e9 cools the case by 1e-9 of its rise.
    expected = np.repeat(air + (120.0 - air) * left, 2)
    assert np.concatenate(got) == pytest.approx(expected, rel=1e-8)
