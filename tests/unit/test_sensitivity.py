"""Measure this next: changes of top speed against solving it anew, and a closed form."""

import numpy as np
import pytest

from curves.parts.job import load_job, parse_job
from curves.setups.stack import stack
from curves.steady.balance import balance_speed, top_speed
from curves.steady.envelope import no_load_speed
from curves.studies.sensitivity import sensitivity
from curves.studies.tolerances import unsure
from curves.units import KMH


def solved_anew(rig, inputs):
    """Change of top speed, km/h, with each input one standard uncertainty lower and higher."""
    base = stack([rig])
    factors = {field: np.ones(2 * len(inputs)) for x in inputs for field in x.fields}
    for k, x in enumerate(inputs):
        for field in x.fields:
            factors[field][2 * k : 2 * k + 2] = 1 - x.share, 1 + x.share
    batch = base.vary({name: base.values[name] * x for name, x in factors.items()}).batch()
    speed = balance_speed(batch, no_load_speed(batch)).speed / KMH
    return speed.reshape(-1, 2) - top_speed([rig]).speed[0] / KMH


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
def test_changes_are_those_of_solving_top_speed_anew(case):
    rigs = CASES[case].rigs()
    for rig, got in zip(rigs, sensitivity(rigs), strict=True):
        inputs = unsure(rig)
        assert {x.input for x in got.influences} == set(inputs)
        sizes = [abs(x.kmh) for x in got.influences]
        assert sizes == sorted(sizes, reverse=True)
        wanted = dict(zip(inputs, solved_anew(rig, list(inputs.values())), strict=True))
        for x in got.influences:
            # Both ways solve whole setups: the roots' own 1e-12 is left, a thousandfold for it.
            assert (x.less_kmh, x.more_kmh) == pytest.approx(wanted[x.input], rel=1e-9, abs=1e-8)


def test_constant_power_against_the_air_alone():
    """Derived: P = c A v^3, so top speed goes with the cube root of one over the drag area."""
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
    air, rider = got.influences
    assert air.less_kmh == pytest.approx(speed * (0.9 ** (-1 / 3) - 1), rel=1e-9)
    assert air.more_kmh == pytest.approx(speed * (1.1 ** (-1 / 3) - 1), rel=1e-9)
    assert rider.kmh == pytest.approx(0.0, abs=1e-9)
    assert got.together_kmh == pytest.approx(-air.kmh, rel=1e-9)


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
