"""Measure this next: slopes of top speed against solving it anew, and a closed form."""

import numpy as np
import pytest

from curves.balance import balance_speed, top_speed
from curves.envelope import no_load_speed
from curves.parts.job import load_job, parse_job
from curves.stack import stack
from curves.studies.sensitivity import sensitivity
from curves.studies.tolerances import unsure
from curves.units import KMH


def solved_anew(rig, inputs, step=1e-4):
    """Change of top speed, km/h, for a relative change of 1 of each input."""
    base = stack([rig])
    factors = {field: np.ones(2 * len(inputs)) for x in inputs for field in x.fields}
    for k, x in enumerate(inputs):
        for field in x.fields:
            factors[field][2 * k : 2 * k + 2] = 1 - step, 1 + step
    batch = base.vary({name: base.values[name] * x for name, x in factors.items()}).batch()
    speed = balance_speed(batch, no_load_speed(batch)).speed / KMH
    return np.diff(speed.reshape(-1, 2), axis=1)[:, 0] / (2 * step)


def changed(*changes):
    job = load_job()
    for path, value in changes:
        job = job.replace(path, value)
    return job


MID = (
    (("motor", "hub"), {"profile": "demo-mid-drive"}),
    (("bike", "cargo", "gear_ratios"), [0.9, 1.2, 1.7, 2.4]),
)
CASES = {
    "demo": changed(),
    "hill": changed((("conditions", "grade_percent"), 6.0)),
    "coasting": changed((("conditions", "grade_percent"), -9.0)),
    "ceiling": changed((("motor", "hub", "max_rpm"), 200.0)),
    "speed cap": changed((("tune", "town", "speed_cap_kmh"), 25.0)),
    "gears": changed(*MID),
    "rider": changed((("bike", "cargo", "rider_power_w"), 90.0)),
    "rider alone": changed(
        (("bike", "cargo", "rider_power_w"), 300.0), (("motor", "hub", "kv_rpm_per_v"), 3.0)
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_slopes_are_those_of_solving_top_speed_anew(case):
    rigs = CASES[case].rigs()
    for rig, got in zip(rigs, sensitivity(rigs), strict=True):
        inputs = unsure(rig)
        assert {x.input for x in got.influences} == set(inputs)
        sizes = [abs(x.kmh) for x in got.influences]
        assert sizes == sorted(sizes, reverse=True)
        wanted = dict(zip(inputs, solved_anew(rig, list(inputs.values())), strict=True))
        for x in got.influences:
            want = x.share * wanted[x.input]
            # Differences over 1e-3 here and 1e-4 there: curvature leaves 1e-6, and the roots'
            # own 1e-12 over 1e-4 leaves 1e-8 of the speed; tenfold for both.
            assert x.kmh == pytest.approx(want, rel=1e-4, abs=1e-5)


def test_constant_power_against_the_air_alone():
    """Derived: P = c A v^3, so one per cent of drag area is a third of a per cent of speed."""
    job = parse_job(
        """
format = "rimforce-job-1"
[motor.m]
kv_rpm_per_v = 20.0
resistance_ohm = 0.0
inductance_d_uh = 1.0
inductance_q_uh = 1.0
pole_pairs = 10
[pack.p]
open_circuit_v = 100.0
resistance_ohm = 0.0
[tune.t]
phase_current_a = 500.0
power_cap_w = 1000.0
[bike.b]
bike_mass_kg = 30.0
rider_kg = 80.0
circumference_m = 2.0
rolling_coefficient = 0.0
drag_area_m2 = 0.6
tolerance.drag_area_m2 = 0.1
tolerance.rider_kg = 0.5
[[setup]]
name = "one"
motor = "m"
pack = "p"
tune = "t"
bike = "b"
"""
    )
    (got,) = sensitivity(job.rigs())
    speed = float(top_speed(job.rigs()).speed[0]) / KMH
    assert got.measure_next == "bike.drag_area_m2"
    assert got.influences[0].kmh == pytest.approx(-0.1 * speed / 3, rel=1e-5)
    assert got.influences[1].kmh == pytest.approx(0.0, abs=1e-9)
    assert got.together_kmh == pytest.approx(0.1 * speed / 3, rel=1e-5)


def test_a_speed_cap_leaves_nothing_to_measure():
    rigs = CASES["speed cap"].rigs()
    got = sensitivity(rigs)[1]
    assert got.influences
    assert all(x.kmh == 0 for x in got.influences)
    assert got.measure_next is None


def test_what_cannot_start_has_no_influences():
    rigs = changed((("conditions", "grade_percent"), 90.0)).rigs()
    assert sensitivity(rigs)[0].influences == ()
    assert sensitivity(rigs)[0].measure_next is None


def test_a_typical_value_counts_with_what_is_usual():
    path = ("bike", "cargo")
    job = changed(
        ((*path, "tolerance"), {}),
        ((*path, "sources"), {"drag_area_m2": "typical: a rider upright"}),
    )
    names = {x.input for x in sensitivity(job.rigs())[1].influences}
    assert "bike.drag_area_m2" in names
    assert "bike.rolling_coefficient" not in names
