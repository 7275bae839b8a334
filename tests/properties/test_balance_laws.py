"""Top speed moves little where little changes: where road, rider and motor hand over to each other.

With a rider's watts a bike runs past its no-load speed; downhill it rolls. Both have one answer.
"""

import json
import random

import numpy as np
import pytest

from curves import parse_job
from curves.motion.tractive_force import push
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed
from curves.steady.runs_on import dragged_force
from curves.studies.common import pick
from curves.units import KMH
from tests.oracle.random_jobs import job as random_job

SETUPS = 100
LITTLE = 1e-9
"""Watts of a rider who hardly turns the pedals."""
HEAVIER = 1e-3
"""kg."""
CEILINGS = ("tune.speed_cap_kmh", "motor.max_rpm", "controller.max_electrical_rpm")
JUMP = 1e-3 * KMH
"""A change of speed, m/s, that so few watts do not account for: even a load that rises by no more
than 1e-5 N per m/s moves its balance by less at 1 m/s."""


def random_stack(seed):
    """Random setups with a rider, without the coefficients that let the load fall with speed."""
    rng = random.Random(seed)
    rigs = []
    while len(rigs) < SETUPS:
        tree = random_job(rng)
        bike = tree["bike"]["s0"]
        bike["rider_power_w"] = rng.choice([rng.uniform(20, 250), rng.uniform(0, 5)])
        if "road_load_n" in bike:
            bike["road_load_n"][1] = abs(bike["road_load_n"][1])
        tree["conditions"]["grade_percent"] = rng.uniform(-9, 0.5)
        rigs += parse_job(json.dumps(tree), kind="json").rigs()
    return stack(rigs)


def top(setups):
    return batch_top_speed(setups.batch(), setups.names)


def test_no_watts_and_hardly_any_are_one_speed():
    setups = random_stack(1)
    watts = setups.values["bike.rider_power_w"]
    none, some = (top(setups.vary({"bike.rider_power_w": 0 * watts + w})) for w in (0.0, LITTLE))
    assert np.array_equal(np.isnan(none.speed), np.isnan(some.speed))
    jump = np.abs(np.nan_to_num(some.speed) - np.nan_to_num(none.speed))
    assert jump.max() < JUMP, np.flatnonzero(jump >= JUMP)
    # Where nothing is dragged the road no longer pushes once there is any pedalling.
    batch = setups.batch()
    dragged = dragged_force(batch, np.ones((batch.size, 1)))[:, 0] > 0
    for k in np.flatnonzero(dragged):
        assert some.limited_by[k] == none.limited_by[k], k
    assert np.sum(none.speed > none.no_load_speed) > 10


def test_past_the_motors_end_a_run_comes_to_the_top_speed():
    setups = random_stack(2)
    endless = np.full(len(setups.names), np.nan)
    setups = setups.vary(dict.fromkeys(CEILINGS, endless))
    found = top(setups)
    past = np.flatnonzero(found.speed > found.no_load_speed)
    some = push(pick(setups, past))
    slower, faster = (some.net(found.speed[past, None] * k)[0][:, 0] for k in (1 - 1e-6, 1 + 1e-6))
    assert np.all(slower > 0)
    assert np.all(faster < 0)
    assert np.sum(setups.batch().road.rider_w[past] > 1.0) > 10
    # What more of an input brings there is told as everywhere: by the force it brings.
    for name in ("kmh_per_kg", "kmh_per_series_cell"):
        cells = ~np.isnan(setups.values["pack.cell"][past]) | (name == "kmh_per_kg")
        assert np.isfinite(found.gain[name][past][cells]).all(), name
    heavier = top(setups.vary({"bike.rider_kg": setups.values["bike.rider_kg"] + HEAVIER}))
    change = (heavier.speed - found.speed)[past] / KMH / HEAVIER
    # The load falls in proportion to mass, the air's rises with speed: 1e-3 kg of some 100 bend
    # the difference by 1e-5 of itself.
    assert found.gain["kmh_per_kg"][past] == pytest.approx(change, rel=1e-4, abs=1e-7)
