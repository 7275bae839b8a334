"""Bands from tolerances against closed forms."""

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from curves import load_job, parse_job
from curves.motion.runs import Targets
from curves.steady.envelope import envelope
from curves.studies.bands import bands, first_order, shares
from curves.studies.samples import inputs_of, normal_samples
from curves.studies.tolerances import unsure

JOB = load_job()
EDGES = ndtri(np.array([0.05, 0.5, 0.95]))
PLAIN = """
format = "rimforce-job-1"
[motor.m]
kv_rpm_per_v = 10.0
resistance_ohm = 0.1
inductance_d_uh = 200.0
inductance_q_uh = 200.0
pole_pairs = 20
max_rpm = {rpm}
{motor}
[pack.p]
open_circuit_v = 60.0
resistance_ohm = 0.0
[tune.t]
phase_current_a = 50.0
[bike.one]
bike_mass_kg = 30.0
rider_kg = 70.0
circumference_m = 2.0
rolling_coefficient = 0.01
drag_area_m2 = 0.5
{bike}
[bike.two]
bike_mass_kg = 30.0
rider_kg = 70.0
circumference_m = 2.02
rolling_coefficient = 0.01
drag_area_m2 = 0.5
{bike}
[[setup]]
name = "one"
motor = "m"
pack = "p"
tune = "t"
bike = "one"
[[setup]]
name = "two"
motor = "m"
pack = "p"
tune = "t"
bike = "two"
"""


def plain(motor="", bike="", rpm=100.0):
    return parse_job(PLAIN.format(motor=motor, bike=bike, rpm=rpm))


def width(share):
    return np.sqrt(np.log1p(share**2))


@pytest.mark.parametrize(("method", "allowed"), [("sobol", 0.02), ("latin hypercube", 0.1)])
def test_band_of_a_force_that_is_a_product_of_inputs(method, allowed):
    """Derived: without drag, force at rest goes as 1 / (Kv r); logarithms of lognormals add."""
    job = plain("tolerance.kv_rpm_per_v = 0.04", "tolerance.circumference_m = 0.03")
    rigs = job.rigs()[:1]
    found = bands(rigs, speeds=[0.0], count=4096, method=method, seed=3)
    middle = envelope(rigs, np.array([0.0])).rim_force[0, 0]
    both = np.hypot(width(0.04), width(0.03))
    # A 5 % point of 4096 independent samples has a standard error of 0.033 standard deviations,
    # and a Latin hypercube is hardly better at sums; Sobol' points are several times better.
    assert np.log(found.rim_force[0, :, 0] / middle) / both == pytest.approx(EDGES, abs=allowed)


def test_band_of_a_linear_result():
    """Derived: held by its rotor speed the bike does v = rpm c, linear in c alone."""
    job = plain(bike="tolerance.circumference_m = 0.02")
    found = bands(job.rigs()[:1], count=1024)
    exact = 100 / 60 * 2.0 * np.exp(width(0.02) * EDGES)
    assert found.top_speed[0] == pytest.approx(exact, rel=3e-4)


def test_odds_of_a_pair_against_the_normal_distribution():
    """Derived: P(c2 > c1) of two independent lognormals."""
    job = plain(bike="tolerance.circumference_m = 0.02")
    found = bands(job.rigs(), count=4096, seed=1)
    odds = ndtr(np.log(2.02 / 2.0) / (width(0.02) * np.sqrt(2)))
    # Standard error of independent samples would be 0.0075.
    assert found.faster[1, 0] == pytest.approx(odds, abs=0.0075)
    assert found.faster[0, 1] == pytest.approx(1 - odds, abs=0.0075)
    assert np.all(np.diag(found.faster) == 0)


def test_shared_parts_share_their_samples():
    """The motor is the same in both, so the larger wheel is faster in every sample."""
    job = plain("tolerance.max_rpm = 0.1")
    found = bands(job.rigs(), count=128)
    assert [known.setups for known in found.inputs] == [(0, 1)]
    assert found.faster[1, 0] == 1


def test_ties_count_for_nobody():
    job = JOB.replace("tune.town.speed_cap_kmh", 25.0)
    found = bands([job.rig("13 cells"), job.rig("16 cells")], count=64)
    assert found.faster.max() == 0
    assert np.ptp(found.top_speed) < 1e-12


def test_without_tolerances_the_band_is_the_value():
    rigs = plain().rigs()
    found = bands(rigs, speeds=[1.0, 2.0], targets=Targets((2.0,), (10.0,)))
    assert found.inputs == ()
    assert found.count == 1
    assert np.ptp(found.top_speed, axis=1) == pytest.approx(0)
    assert np.ptp(found.speed_time, axis=1) == pytest.approx(0)
    assert found.rim_force[0, 0] == pytest.approx(envelope(rigs, np.array([1.0, 2.0])).rim_force[0])


def test_time_never_reached_in_some_samples():
    found = bands([JOB.rig("as delivered")], targets=Targets((20 / 2.25, 60 / 3.6), (50.0,)))
    assert np.isnan(found.speed_time[0, :, 1]).all()
    assert np.all(np.diff(found.speed_time[0, :, 0]) > 0)
    assert np.all(np.diff(found.distance_time[0, :, 0]) > 0)


def test_same_seed_same_bands_and_another_seed_others():
    rigs = [JOB.rig("as delivered")]
    one, same, other = (bands(rigs, count=64, seed=seed).top_speed for seed in (1, 1, 2))
    assert np.array_equal(one, same)
    assert not np.array_equal(one, other)


def test_typical_values_come_with_their_usual_tolerance():
    job = plain('sources.resistance_ohm = "typical: of such hubs"')
    assert unsure(job.rigs()[0])["motor.resistance_ohm"].share == 0.05
    assert inputs_of(job.rigs())[0].setups == (0, 1)


def test_what_cannot_exceed_a_bound_does_not():
    job = plain("gear_efficiency = 0.99\ntolerance.gear_efficiency = 0.2")
    found = bands(job.rigs()[:1], speeds=[0.0], count=64)
    middle = envelope(job.rigs()[:1], np.array([0.0])).rim_force[0, 0]
    assert found.rim_force[0, 2, 0] == pytest.approx(middle / 0.99, rel=1e-12)


def test_inductances_move_together():
    job = plain("tolerance.inductance_d_uh = 0.3\ntolerance.inductance_q_uh = 0.2")
    (known,) = inputs_of(job.rigs()[:1])
    assert known.share == 0.3
    assert known.fields == ("motor.inductance_d_uh", "motor.inductance_q_uh")


def test_first_order_of_a_sum():
    """Derived: the shares of a weighted sum of independent equal inputs go as weights squared."""
    weights = np.array([3.0, 2.0, 0.0, 1.0])
    found = first_order(lambda x: x @ weights, 4, count=2048, seed=5)
    assert found == pytest.approx(weights**2 / (weights @ weights), abs=0.01)


def test_first_order_of_nothing():
    assert first_order(lambda x: np.full(len(x), 7.0), 2, count=16).tolist() == [0, 0]
    assert first_order(lambda x: x.sum(axis=1), 0).size == 0


def test_shares_of_top_speed_held_by_rotor_speed():
    """Derived: v = rpm c, so shares go as squared widths."""
    job = plain("tolerance.max_rpm = 0.04", "tolerance.circumference_m = 0.03")
    found = shares(job.rigs()[0], count=2048)
    assert found.names == ("motor.max_rpm", "bike.circumference_m")
    assert found.share == pytest.approx([16 / 25, 9 / 25], abs=0.01)
    assert found.together == pytest.approx(0, abs=0.02)


@pytest.mark.parametrize("method", ["sobol", "latin hypercube"])
def test_samples_are_standard_normal(method):
    z = normal_samples(range(3), 1024, method=method, seed=0)
    assert z.shape == (1024, 3)
    assert z.mean(axis=0) == pytest.approx([0, 0, 0], abs=0.01)
    assert z.std(axis=0) == pytest.approx([1, 1, 1], abs=0.01)
