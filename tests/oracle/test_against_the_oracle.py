"""``curves`` and ``top-speed`` of random whole jobs against a second implementation."""

import json
import random
from functools import cache

import numpy as np
import pytest

from curves import parse_job
from curves.setups.stack import stack
from curves.steady.balance import top_speed
from curves.steady.envelope import batch_envelope, words
from curves.units import KMH
from tests.oracle.make import ANSWERS, answers, trees

COLUMNS = {
    "torque_nm": "torque",
    "rim_force_n": "rim_force",
    "road_force_n": "road_force",
    "shaft_power_w": "shaft_power",
    "pack_power_w": "pack_power",
    "pack_voltage_v": "pack_voltage",
    "pack_current_a": "pack_current",
    "phase_current_a": "phase_current",
    "current_d_a": "current_d",
    "current_q_a": "current_q",
    "efficiency": "efficiency",
}
NEAR = 1e-6
"""What is promised of curves and top speed, relative."""


@cache
def both():
    """The oracle's answers; the tool's envelopes and top speeds, all in one batch."""
    known = json.loads(ANSWERS.read_text(encoding="utf-8"))
    rigs = [rig for tree in trees() for rig in parse_job(json.dumps(tree), kind="json").rigs()]
    speed = np.array([x["speed_kmh"] for x in known]) * KMH
    with np.errstate(all="raise", under="ignore"):
        names = tuple(rig.name for rig in rigs)
        drawn = batch_envelope(stack(rigs).batch(), names, speed)
        top = top_speed(rigs)
    assert len(known) == len(rigs)
    return known, drawn, top


def numbers(values):
    """An array of numbers, NaN for null."""
    return np.array(values, dtype=float)


def differ(wanted, got, near, floor=0.0):
    """Where two arrays differ by more than ``near``, relative, or in what is null."""
    with np.errstate(invalid="ignore"):
        apart = np.abs(wanted - got) > near * np.maximum(np.abs(wanted), np.abs(got)) + floor
    return apart | (np.isnan(wanted) != np.isnan(got))


@pytest.mark.parametrize("name", COLUMNS)
def test_columns_of_the_curves(name):
    known, drawn, _ = both()
    wanted = numbers([x["curves"][name] for x in known])
    got = getattr(drawn, COLUMNS[name])
    floor = 0.0
    if name == "current_d_a":
        # Part of the current: its own size may be nothing.
        floor = NEAR * np.nan_to_num(numbers([x["curves"]["phase_current_a"] for x in known]))
    if name in ("torque_nm", "rim_force_n", "shaft_power_w", "efficiency"):
        # No-load torque is taken off: near no-load speed nothing is left to be relative to.
        floor = 1e-9 * np.nan_to_num(np.nanmax(wanted, axis=1, keepdims=True, initial=0))
    bad = np.argwhere(differ(wanted, got, NEAR, floor))
    assert bad.size == 0, [(i, j, wanted[i, j], got[i, j]) for i, j in bad[:5]]
    assert np.isfinite(wanted).sum() > 0.4 * wanted.size


def test_words_of_the_curves():
    known, drawn, _ = both()
    wrong, seen = [], set()
    for k, one in enumerate(known):
        for j in range(len(one["speed_kmh"])):
            got = words(drawn.limited[k, j])
            seen |= set(got)
            if not set(one["surely"][j]) <= set(got) <= set(one["perhaps"][j]):
                wrong.append((k, j, one["surely"][j], one["perhaps"][j], got))
    assert not wrong, wrong[:5]
    assert len(seen) == 9


@pytest.mark.parametrize("name", ["base_speed", "no_load_speed"])
def test_ends_of_the_envelope(name):
    known, _, top = both()
    wanted, got = numbers([x[f"{name}_kmh"] for x in known]) * KMH, getattr(top, name)
    bad = np.flatnonzero(differ(wanted, got, NEAR))
    assert bad.size == 0, [(k, wanted[k], got[k]) for k in bad[:5]]
    assert np.isfinite(wanted).sum() > 0.5 * wanted.size


def test_top_speed_and_its_words():
    known, _, top = both()
    wanted = numbers([x["top_speed_kmh"] for x in known]) * KMH
    bad = np.flatnonzero(differ(wanted, top.speed, NEAR))
    assert bad.size == 0, [(k, wanted[k], top.speed[k]) for k in bad[:5]]
    wrong = [
        (k, x["top_surely"], top.limited_by[k])
        for k, x in enumerate(known)
        if not set(x["top_surely"]) <= set(top.limited_by[k]) <= set(x["top_perhaps"])
    ]
    assert not wrong, wrong[:5]
    assert np.isnan(wanted).sum() > 5
    assert sum("coasting" in x for x in top.limited_by) > 3


def test_back_emf_at_top_speed():
    known, _, top = both()
    wanted = numbers([x["drive_off_emf_v"] for x in known])
    bad = np.flatnonzero(differ(wanted, top.drive_off_emf_v, NEAR))
    assert bad.size == 0, [(k, wanted[k], top.drive_off_emf_v[k]) for k in bad[:5]]


@pytest.mark.parametrize("name", json.loads(ANSWERS.read_text("utf-8"))[0]["gain_per_unit"])
def test_gain_per_unit(name):
    known, _, top = both()
    wanted = numbers([x["gain_per_unit"][name] for x in known])
    doubt = np.nan_to_num(numbers([x["gain_doubt"][name] for x in known]), nan=np.inf)
    got = np.array(top.gain[name])
    skip = np.array([x["spent"] for x in known])
    # No gain without end: differences find some number where the tool says null.
    skip |= np.isnan(got) & ~np.isnan(wanted)
    with np.errstate(invalid="ignore"):
        off = np.abs(wanted - got) > 1e-6 * np.abs(wanted) + 3 * doubt + 1e-9
    bad = np.flatnonzero((off | (np.isnan(wanted) & ~np.isnan(got))) & ~skip)
    assert bad.size == 0, [(k, wanted[k], got[k], doubt[k]) for k in bad[:5]]
    assert np.sum(~np.isnan(got) & (got != 0)) > 5


def test_the_answers_are_the_oracles():
    # One job anew, another each time the file is made again; no seed is chosen here.
    every = trees()
    known = json.loads(ANSWERS.read_text(encoding="utf-8"))
    k = random.Random(str(known[0])).randrange(len(every))
    first = sum(len(tree["setup"]) for tree in every[:k])
    fresh = json.loads(json.dumps(answers([every[k]])))
    for new, old in zip(fresh, known[first : first + len(fresh)], strict=True):
        assert new["speed_kmh"] == old["speed_kmh"]
        assert new["surely"] == old["surely"]
        for name in set(new["curves"]) - {"current_d_a"}:
            assert close(new["curves"][name], old["curves"][name])
        for name in ("top_speed_kmh", "base_speed_kmh", "no_load_speed_kmh"):
            assert close([new[name]], [old[name]])


def close(new, old):
    """Numbers that are the same but for the last digits, null where the others are."""
    return numbers(new) == pytest.approx(numbers(old), rel=1e-7, nan_ok=True)
