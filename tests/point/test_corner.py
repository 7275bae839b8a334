"""Peaks worked out where limits meet, against the search by nodes alone, and what they save."""

import numpy as np
import pytest

from curves import load_job
from curves.point import corner, search
from curves.point.limits import derated_torque, power_limits
from curves.studies.tops import tops
from tests.point.random_drives import random_drives, rows

KINDS = [{"salient": True, "derated": True}, {"derated": True}, {"salient": True}, {}]


def legal(seed, count, **options):
    """Drives that give power, rotor speed, and the most power drawn."""
    drive, speed = random_drives(seed, count, **options)
    limit = power_limits(drive).total
    at = np.flatnonzero(limit >= drive.standby_w)
    return rows(drive, at), speed[at], limit[at]


@pytest.mark.parametrize("options", KINDS)
def test_a_peak_is_that_of_the_search_by_nodes_alone(options, monkeypatch):
    drive, speed, limit = legal(81, 600, **options)
    with np.errstate(all="raise", under="ignore"):
        quick = derated_torque(drive, *search.largest_torque(drive, speed, limit))
        monkeypatch.setattr(search, "LOOKS", ())
        slow = derated_torque(drive, *search.largest_torque(drive, speed, limit))
    assert np.isfinite(slow).sum() > 200
    # The nodes find a limit to some 1e-13, more only where a torque is next to nothing.
    scale = 1e-9 * drive.pole_pairs * drive.flux * np.minimum(drive.vector_a, drive.torque_a)
    np.testing.assert_array_equal(np.isnan(quick), np.isnan(slow))
    off = np.abs(quick - slow) / np.maximum(slow, scale)
    assert np.nanmax(off) < 1e-10


@pytest.mark.parametrize("options", KINDS)
def test_most_peaks_need_one_look(options, monkeypatch):
    drive, speed, limit = legal(82, 600, **options)
    looked = []

    def counted(laws, scan):
        found, *point = settled(laws, scan)
        looked.append((found.size, np.count_nonzero(found)))
        return found, *point

    settled = corner.settled
    monkeypatch.setattr(corner, "settled", counted)
    monkeypatch.setattr(search, "LOOKS", (0,))
    search.largest_torque(drive, speed, limit)
    tried, found = np.sum(looked, axis=0)
    assert tried > 150
    # A tenth of these have no resistance, where a stretch of i_d gives one torque.
    assert found > 0.85 * tried


@pytest.mark.parametrize("salient", [True, False])
def test_next_to_no_power_takes_few_steps(salient, monkeypatch):
    """Brackets as wide as the volts allow about currents of 1e-8 A took 111 steps, not 23."""
    drive, speed, limit = legal(83, 200, salient=salient)
    steps = []

    def counted(f, *ends, **how):
        taken = []
        root = bracketed(lambda x, at: (taken.append(1), f(x, at))[1], *ends, **how)
        steps.append(len(taken))
        return root

    bracketed = search.bracketed_root
    monkeypatch.setattr(search, "bracketed_root", counted)
    idle = drive._replace(standby_w=np.zeros_like(speed))
    search.largest_torque(idle, speed, 1e-9 * np.minimum(limit, 1e3))
    assert len(steps) > 1
    assert np.mean(steps) < 40


def test_saturation_tries_few_currents(monkeypatch):
    """By nodes alone each point of these takes 320 trials of i_d."""
    trials, points = [], []
    score, peak = search._score, search.largest_torque

    def counted(d, w, limit, x, *more):
        trials.append(x.size)
        return score(d, w, limit, x, *more)

    def asked(d, w, limit):
        points.append(w.size)
        return peak(d, w, limit)

    monkeypatch.setattr(search, "_score", counted)
    monkeypatch.setattr(search, "largest_torque", asked)
    job = load_job().replace("motor.hub.torque_derating", [[10.0, 1.0], [40.0, 0.92], [75.0, 0.8]])
    tops(job.rigs(), None)
    assert sum(points) > 100
    assert sum(trials) < 40 * sum(points)
