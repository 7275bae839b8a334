"""How much field weakening: the sweep, its three answers and the trade against volts."""

from dataclasses import replace

import numpy as np
import pytest

from curves import JobError, load_job
from curves.motion.heat import settled
from curves.parts.labels import NEARLY_EMPTY
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed, top_speed
from curves.studies.cells import with_series
from curves.studies.settings import SETTING, find_answers, least_amps
from curves.studies.weakening import at_other_charge, top_speeds, trade, weakening_sweep
from curves.units import KMH
from curves.words.weakening import sentence

JOB = load_job()
SLOW = "as delivered"
STRONG = JOB.replace("tune.town.power_cap_w", None).replace("tune.town.pack_current_a", 60.0)
"""A setup that voltage alone holds back, up to the phase current."""
JOBS = {
    "demo": JOB,
    "strong": STRONG.replace("pack.cells-10.peak_current_a", None),
    "rms": STRONG.replace("tune.town.current_basis", "rms"),
    "capped": JOB.replace("tune.town.speed_cap_kmh", 39.0),
    "rated": JOB.replace("controller.sine.max_input_v", 37.0),
    "salient": STRONG.replace("motor.hub.inductance_q_uh", 500.0),
}


def speeds(job, amps):
    setups = stack([job.rig(SLOW)]).vary({SETTING: np.asarray(amps, dtype=float)})
    return batch_top_speed(setups.batch(), setups.names)


@pytest.mark.parametrize("name", JOBS)
def test_more_weakening_never_costs_top_speed(name):
    top = speeds(JOBS[name], np.linspace(0, 90, 181))
    # A budget that may be left unused; 1e-9 is the accuracy of top speed.
    assert np.all(np.diff(top.speed) >= -1e-9 * top.speed[0])


@pytest.mark.parametrize("name", JOBS)
def test_fastest_is_the_lowest_setting_with_the_highest_top_speed(name):
    found = find_answers(stack([JOBS[name].rig(SLOW)]), 0.0, 120.0)
    fastest = found.fastest[0]
    assert 1 < fastest < 120
    top = speeds(JOBS[name], [fastest - 0.5, fastest, fastest + 0.5, 120])
    assert top.speed[1:] == pytest.approx(top.speed[3], rel=1e-9)
    assert top.speed[0] < top.speed[1] * (1 - 1e-7)


@pytest.mark.parametrize("name", JOBS)
@pytest.mark.parametrize("worth", [0.05, 0.12])
def test_diminishing_against_a_fine_scan(name, worth):
    """Derived: differences of top speed over a tenth of an ampere."""
    found = find_answers(stack([JOBS[name].rig(SLOW)]), 0.0, 100.0, worth)
    amps = np.arange(0, 100.05, 0.1)
    buys = np.diff(speeds(JOBS[name], amps).speed) / KMH / 0.1 >= worth
    last = amps[:-1][buys].max(initial=-np.inf)
    expected = 0.0 if np.isinf(last) else last + 0.1
    # One step of the scan each way.
    assert found.diminishing[0] == pytest.approx(expected, abs=0.2)


def test_what_an_ampere_buys_is_the_difference_that_one_makes():
    """Half an ampere below the fastest setting only half of the next one is of use."""
    rig = JOB.rig(SLOW)
    fastest = find_answers(stack([rig]), 0.0, 120.0).fastest[0]
    sweep = weakening_sweep(rig, [fastest - 0.5, fastest + 1], heat=False)
    below, most = top_speeds(rig, [fastest - 0.5, fastest + 0.5])
    # Both are whole solutions, each to the solver's 1e-12 of a speed of some 10 m/s.
    assert sweep.more == pytest.approx([most - below, 0.0], abs=1e-9)
    assert sweep.more[0] < 0.9 * sweep.top.gain["kmh_per_weakening_a"][0] * KMH


def test_within_ratings_is_where_the_rating_is_met_exactly():
    job = JOBS["rated"]
    found = find_answers(stack([job.rig(SLOW)]), 0.0, 80.0)
    sweep = weakening_sweep(job.rig(SLOW), [0.0, found.within[0], 80.0])
    assert found.stopped_by == ("controller volts with the drive off",)
    cold = sweep.top.drive_off_emf_cold_v
    assert cold[1] == pytest.approx(37.0, rel=1e-9)
    # Air at 18 °C, magnets at 20: the cold magnet's flux is 2 x 0.0011 up, to first order exactly.
    assert cold / sweep.top.drive_off_emf_v == pytest.approx(1 + 2 * 0.0011, rel=1e-12)


def test_no_setting_within_a_rating_passed_from_the_start():
    job = JOB.replace("controller.sine.max_input_v", 30.0)
    sweep = weakening_sweep(job.rig(SLOW), [0.0, 40.0])
    assert np.isnan(sweep.answers.within[0])
    assert "No setting is within every rating" in sentence(sweep)


def test_range_that_ends_too_soon_says_so():
    sweep = weakening_sweep(JOBS["strong"].rig(SLOW), [0.0, 10.0])
    assert sweep.answers.rising[0]
    assert sweep.answers.fastest[0] == pytest.approx(10.0)
    assert np.isnan(sweep.answers.diminishing[0])
    assert "still rises at 10 A" in sentence(sweep)


def test_losses_at_a_cap_are_those_of_holding_it():
    job = JOBS["capped"]
    sweep = weakening_sweep(job.rig(SLOW), [0.0, 30.0, 60.0])
    rig = job.rig(SLOW)
    held = sweep.running
    road = stack([rig]).batch().road.force(np.array([[39 * KMH]]))[0, 0]
    useful = road * 39 * KMH
    taken = held.pack_current * (
        rig.pack.open_circuit(1.0) - rig.pack.resistance() * held.pack_current
    )
    # Power in less losses on the way is what the road takes.
    assert taken[1:] - held.loss[1:] == pytest.approx(useful, rel=1e-9)
    assert held.loss[1] == pytest.approx(held.loss[2], rel=1e-9)


def test_trade_matches_the_higher_pack():
    base = stack([JOBS["strong"].rig(SLOW)])
    counts = np.array([10.0, 10.5, 11.0, 30.0])
    others = with_series(base, counts)
    found = trade(base.vary({SETTING: np.zeros(4)}), others)
    top = batch_top_speed(base.vary({SETTING: found.amps}).batch(), others.names).speed
    assert found.amps[0] == pytest.approx(0, abs=1e-9)
    assert top[:3] == pytest.approx(found.target[:3], rel=1e-9)
    # Thirty cells are out of reach: there the two match up to this one's own best.
    assert found.speed[3] < found.target[3]
    assert top[3] == pytest.approx(found.speed[3], rel=1e-9)
    assert np.all(found.loss[1:] > 0)
    assert np.all(found.wh_per_km[1:] > 0)
    assert np.all(found.winding_k[1:] > 0)
    assert np.all(np.diff(found.amps) > 0)


def test_least_amps_is_none_where_no_setting_does():
    base = stack([JOB.rig(SLOW)])
    none = least_amps(base, np.array([60 * KMH]), np.zeros(1), np.full(1, 1e6))
    assert np.isnan(none[0])


def test_typical_inductance_gives_a_range_and_no_figure():
    job = JOB.replace("motor.hub.sources", {"inductance_d_uh": "typical: of such hubs"})
    job = job.replace("motor.hub.tolerance", {"inductance_d_uh": 0.2, "inductance_q_uh": 0.2})
    sweep = weakening_sweep(job.rig(SLOW), np.arange(0, 81, 20.0), heat=False)
    low, high = sweep.spread["fastest"]
    assert low < sweep.answers.fastest[0] < high
    assert "no single figure" in sentence(sweep)


def test_answers_are_in_the_tunes_basis():
    unrated = JOBS["strong"].replace("controller.sine.max_phase_current_a", None)
    in_rms = unrated.replace("tune.town.current_basis", "rms")
    in_peak = unrated.replace("tune.town.phase_current_a", 75.0 * np.sqrt(2))
    rms, peak = (find_answers(stack([j.rig(SLOW)]), 0.0, 150.0) for j in (in_rms, in_peak))
    assert rms.fastest[0] * np.sqrt(2) == pytest.approx(peak.fastest[0], rel=1e-9)


@pytest.mark.parametrize("amps", [[], [2, 1], [-1, 1], [1, 1]])
def test_settings_that_do_not_rise_are_refused(amps):
    with pytest.raises(JobError, match="rise"):
        weakening_sweep(JOB.rig(SLOW), amps)


def test_winding_temperature_is_a_rating_too():
    """A motor that stands little: the setting at which it settles at its limit."""
    job = JOB.replace("motor.hub.winding_limit_c", 50.0)
    sweep = weakening_sweep(job.rig(SLOW), [0.0, 80.0])
    assert sweep.answers.stopped_by == ("winding temperature",)
    at_limit = weakening_sweep(job.rig(SLOW), [0.0, sweep.answers.within[0]])
    # Settled temperatures are found to 1e-7 K.
    assert at_limit.winding_c[1] == pytest.approx(50.0, abs=1e-5)
    alone = settled([job.rig(SLOW)], top_speed([job.rig(SLOW)]).speed)
    assert at_limit.winding_c[0] == pytest.approx(alone.winding_c[0], abs=1e-6)


def test_without_heat_values_no_temperature_is_made_up():
    values = {
        "kv_rpm_per_v": 8.4,
        "resistance_ohm": 0.165,
        "inductance_d_uh": 300.0,
        "inductance_q_uh": 325.0,
        "pole_pairs": 20,
    }
    job = JOB.replace("motor.hub", values)
    sweep = weakening_sweep(job.rig(SLOW), [0.0, 40.0])
    assert np.isnan(sweep.winding_c).all()
    assert sweep.answers.stopped_by == ("",)


def test_both_charges_are_told_where_it_stops_paying():
    amps = np.arange(0, 81, 20.0)
    rig = JOB.rig(SLOW)
    sweep = weakening_sweep(rig, amps, heat=False)
    other = weakening_sweep(at_other_charge(rig), amps, heat=False)
    said = sentence(sweep, other=other)
    assert said.startswith("With a full pack, field weakening raises top speed from 36.9 km/h")
    expected = find_answers(stack([at_other_charge(rig)]), 0.0, 80.0).diminishing[0]
    assert 1 < expected < sweep.answers.diminishing[0] - 1
    pays, fast = sweep.answers.diminishing[0], other.top.speed[-1] / KMH
    assert (
        f"from {pays:.1f} A on with a full pack; with a nearly empty one it buys less than "
        f"0.1 km/h from {expected:.1f} A on, and top speed is {fast:.1f} km/h at most"
    ) in said
    assert "nearly empty" not in sentence(sweep)


def test_a_rating_passed_sooner_at_the_other_charge_is_told():
    rig = JOB.rig(SLOW)
    sweep, other = (
        weakening_sweep(r, [0.0, 40.0, 80.0], heat=False) for r in (rig, at_other_charge(rig))
    )
    assert "With a nearly empty pack" not in sentence(sweep, other=other)
    answers = replace(other.answers, within=np.array([20.0]), stopped_by=("any",))
    assert sentence(sweep, other=replace(other, answers=answers)).endswith(
        "With a nearly empty pack up to 20.0 A every rating is kept; the first to go is any."
    )


def test_the_other_charge():
    rig = JOB.rig(SLOW)
    empty = at_other_charge(rig)
    assert (empty.state_of_charge, at_other_charge(empty).state_of_charge) == (NEARLY_EMPTY, 1.0)
    stiff = JOB.replace(("pack", "cells-10"), {"open_circuit_v": 36.0, "resistance_ohm": 0.1})
    assert at_other_charge(stiff.rig(SLOW)) is None
    said = sentence(weakening_sweep(stiff.rig(SLOW), [0.0, 80.0], heat=False))
    assert said.startswith("Field weakening ")


def test_a_pack_that_cannot_start_nearly_empty_is_said():
    cut = JOB.replace("tune.town.low_voltage_cutoff_v", 34.0).rig(SLOW)
    sweep, other = (
        weakening_sweep(r, [0.0, 40.0], heat=False) for r in (cut, at_other_charge(cut))
    )
    assert "with a nearly empty one the bike cannot start." in sentence(sweep, other=other)
