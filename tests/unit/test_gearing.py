"""Gearing: the fastest and the quickest, against fine scans."""

import numpy as np
import pytest

from curves import JobError, load_job
from curves.motion.runs import Targets, timed_runs
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed, top_speed
from curves.studies.gearing import gear_sweep
from curves.units import KMH, MPH
from curves.words.gearing import sentence

JOB = load_job()
TARGETS = Targets((20 * MPH,), (100.0,))
NONE = Targets((), ())


@pytest.fixture(scope="module")
def wheel():
    rig = JOB.rig("20 cells, cap lifted")
    return gear_sweep(rig, np.linspace(1.0, 3.0, 21), changed="wheel", targets=TARGETS)


def scan(values):
    return stack([JOB.rig("20 cells, cap lifted")]).vary({"bike.circumference_m": values})


def test_fastest_wheel_against_a_fine_scan(wheel):
    fine = np.linspace(1.4, 1.8, 401)
    some = scan(fine)
    speed = batch_top_speed(some.batch(), some.names).speed
    best = wheel.fastest
    assert best.result >= speed.max() * (1 - 1e-12)
    assert best.value == pytest.approx(fine[np.argmax(speed)], abs=1e-3)
    good = fine[speed >= best.result - 0.1 * KMH]
    assert best.low == pytest.approx(good[0], abs=1.1e-3)
    assert best.high == pytest.approx(good[-1], abs=1.1e-3)


def test_quickest_wheel_against_a_fine_scan(wheel):
    fine = np.linspace(1.0, 1.4, 201)
    over = timed_runs(scan(fine), Targets((), (100.0,))).distance_time[:, 0]
    best = wheel.quickest[1]
    assert best.result <= over.min() * (1 + 1e-12)
    assert best.result == pytest.approx(over.min(), rel=1e-5)


def test_present_wheel_is_the_setup_itself():
    rig = JOB.rig("as delivered")
    sweep = gear_sweep(rig, [1.9, 2.05, 2.2], changed="wheel", targets=TARGETS)
    alone = timed_runs([rig], TARGETS)
    assert sweep.present == 2.05
    assert sweep.top_speed[1] == pytest.approx(top_speed([rig]).speed[0], rel=1e-12)
    assert sweep.speed_time[1] == pytest.approx(alone.speed_time[0], rel=1e-12)
    assert sweep.distance_time[1] == pytest.approx(alone.distance_time[0], rel=1e-12)


def test_reduction_and_wheel_are_the_same_thing_to_a_motor_without_inertia():
    """Derived: rotor speed and rim force depend on ratio over radius alone."""
    job = JOB.replace("motor.hub.rotor_inertia_kg_m2", 0.0)
    rig = job.rig("as delivered")
    by_gear = gear_sweep(rig, [0.8, 1.0, 1.25], targets=NONE)
    by_wheel = gear_sweep(rig, [2.05 / 1.25, 2.05, 2.05 / 0.8], changed="wheel", targets=NONE)
    assert by_gear.top_speed == pytest.approx(by_wheel.top_speed[::-1], rel=1e-10)
    assert by_gear.fastest.value == pytest.approx(2.05 / by_wheel.fastest.value, rel=1e-4)


def test_steps_between_gears_stay():
    job = JOB.replace("bike.cargo.gear_ratios", [0.7, 1.0, 1.5])
    rig = job.rig("as delivered")
    sweep = gear_sweep(rig, [0.7, 0.75], targets=NONE)
    assert sweep.present == pytest.approx(0.7)
    assert sweep.top_speed[0] == pytest.approx(top_speed([rig]).speed[0], rel=1e-12)


def test_a_bike_that_never_starts():
    job = JOB.replace("tune.town.phase_current_a", 0.5)
    sweep = gear_sweep(job.rig("as delivered"), [1.0, 1.2], targets=TARGETS)
    assert np.isnan(sweep.fastest.value)
    assert "cannot start" in sentence(sweep)


def test_sentence_names_both(wheel):
    said = sentence(wheel)
    assert "fastest roll-out is 1.57 m" in said
    assert "now 2.05 m gives" in said
    assert "Quickest to 20 mph: 1 m (the end of the range)" in said


def test_what_progress_raises_ends_the_sweep():
    told = []

    def stop(done, most):
        told.append((done, most))
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        gear_sweep(JOB.rig("as delivered"), [0.9, 1.0, 1.1], targets=NONE, progress=stop)
    assert told == [(1, 8)]


@pytest.mark.parametrize("values", [[], [1.0], [2.0, 1.0], [0.0, 1.0]])
def test_values_that_do_not_rise_are_refused(values):
    with pytest.raises(JobError, match="rising"):
        gear_sweep(JOB.rig("as delivered"), values)
