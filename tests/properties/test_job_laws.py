"""Laws of whole setups: balances, roots, and what limits, over random legal jobs."""

import json
import random

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from curves import parse_job
from curves.point.limits import demanded_voltage, input_power, sagged_voltage
from curves.point.solve import operating_point
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed
from curves.steady.envelope import batch_envelope, draw, words
from tests.oracle.random_jobs import job as random_job

SEEDS = st.integers(0, 10**9)
SOME = settings(max_examples=25, deadline=None)


def batch(seed, *, free=False):
    """A random setup; ``free`` lifts its caps and ceilings."""
    tree = random_job(random.Random(seed))
    made = stack(parse_job(json.dumps(tree), kind="json").rigs()).batch()
    if free:
        none = np.full((1, 1), np.inf)
        made = made._replace(speed_cap=none, rotor_limit=none, electrical_limit=none)
    return made


def reach(top):
    """A speed past all that is driven, or a plain one where the motor drives without end, m/s."""
    ends = [x for x in (top.no_load_speed[0], top.speed[0], 10.0) if not np.isnan(x)]
    return min(1.1 * ends[0], 100.0)


@SOME
@given(SEEDS)
def test_what_the_pack_gives_is_what_arrives_and_what_is_lost(seed):
    made = batch(seed)
    drawn = batch_envelope(made, ("one",), np.linspace(0, 25, 26))
    live = ~np.isnan(drawn.torque)
    given_off = made.drive.open_circuit_v * drawn.pack_current
    lost = sum(drawn.losses.values())
    total = drawn.rim_power + lost
    near = 1e-9 * np.maximum(np.abs(given_off), 1e-3)
    assert np.all(np.abs(given_off - total)[live] <= near[live])
    assert all(np.all(x[live] >= 0) for x in drawn.losses.values())
    assert np.array_equal(np.isnan(drawn.rim_power), ~live)


@SOME
@given(SEEDS, st.floats(0, 1))
def test_each_limit_named_is_met_and_more_of_it_gives_torque(seed, share):
    made = batch(seed)
    top = batch_top_speed(made, ("one",))
    v = np.array([share * reach(top)])
    drawn = batch_envelope(made, ("one",), v)
    if np.isnan(drawn.torque[0, 0]) or drawn.torque[0, 0] <= 0:
        return
    d, w = made.drive, drawn.rotor_speed
    base = operating_point(d, w).torque[0, 0]
    up = 1 + 1e-4
    length, power = drawn.phase_current, drawn.pack_power
    phase = np.minimum(d.vector_a, d.torque_a)
    volts = sagged_voltage(d, power)
    half = d.open_circuit_v / 2
    named = words(drawn.limited[0, 0])
    more = {
        "phase current": d._replace(vector_a=d.vector_a * up, torque_a=d.torque_a * up),
        "field weakening current": d._replace(weakening_a=d.weakening_a + 1e-4 * phase),
        "pack current": d._replace(pack_a=d.pack_a * up),
        "power cap": d._replace(cap_w=d.cap_w * up),
        "low-voltage cut-off": d._replace(
            cutoff_v=d.cutoff_v / up,
            foldback_start_v=d.foldback_start_v / up,
            foldback_end_v=d.foldback_end_v / up,
        ),
        "voltage": d._replace(modulation=d.modulation * up),
    }
    slack = {
        "phase current": min(
            1 - (length / d.vector_a)[0, 0], 1 - (drawn.current_q / d.torque_a)[0, 0]
        ),
        "field weakening current": ((d.weakening_a + drawn.current_d) / phase)[0, 0],
        "power cap": 1 - (power / d.cap_w)[0, 0],
        "voltage": 1 - (demanded_voltage(d, w, drawn.current_d, drawn.current_q) / volts)[0, 0],
    }
    for word in named:
        if word not in more:
            continue
        assert slack.get(word, 0.0) <= 1.001e-6, word
        if word == "pack current" and volts[0, 0] <= half[0, 0] * (1 + 1e-6):
            # The most a pack can give: no rating buys more.
            continue
        # The gain that counts is 1e-9 of the torque; the solver's own error is below 1e-12.
        assert operating_point(more[word], w).torque[0, 0] > base * (1 + 1e-13), word


@SOME
@given(SEEDS)
def test_top_speed_is_a_root_or_an_end(seed):
    made = batch(seed)
    top = batch_top_speed(made, ("one",))
    v = top.speed[0]
    if np.isnan(v) or top.limited_by[0] == ("coasting",) or v < 1e-3:
        return

    def surplus(speed):
        force = np.nan_to_num(draw(made, np.array([speed])).rim_force)
        road = made.road
        rider = road.rider(np.array([[speed]]))
        return (force + rider - road.force(np.array([[speed]])))[0, 0]

    # Nothing below it stops the bike.
    below = np.linspace(0, v * (1 - 1e-7), 40)
    assert min(surplus(x) for x in below) > 0
    capped = {"speed cap", "motor speed", "electrical speed"} & set(top.limited_by[0])
    at_no_load = abs(v - top.no_load_speed[0]) < 1e-9 * v
    if not capped and not at_no_load and abs(v - 1) > 1e-9:
        assert surplus(v * (1 + 1e-7)) < 0


@SOME
@given(SEEDS)
def test_no_load_speed_is_where_torque_ends(seed):
    made = batch(seed, free=True)
    top = batch_top_speed(made, ("one",))
    end = top.no_load_speed[0]
    if np.isnan(end):
        return
    drawn = batch_envelope(made, ("one",), end * np.array([0, 0.5, 0.99, 1 - 1e-7, 1 + 1e-7, 1.5]))
    tall = made._replace(ratio=made.ratio[:, :1])
    drawn = batch_envelope(tall, ("one",), drawn.speed)
    assert np.all(drawn.torque[0, :4] >= 0)
    assert np.all(np.isnan(drawn.torque[0, 4:]))


@SOME
@given(SEEDS)
def test_voltage_limits_from_base_speed_on_and_not_below(seed):
    made = batch(seed, free=True)
    made = made._replace(ratio=made.ratio[:, -1:])
    top = batch_top_speed(made, ("one",))
    base = top.base_speed[0]
    if np.isnan(base):
        end = reach(top)
        drawn = batch_envelope(made, ("one",), np.linspace(0, end, 60))
        assert not drawn.limited[0, :, 5].any()
        return
    below = base * np.concatenate((np.linspace(0, 0.99, 30), [1 - 1e-5]))
    if base > 0:
        assert not batch_envelope(made, ("one",), below).limited[0, :, 5].any()
    d = made.drive
    w = base * (1 + 1e-5) * made.ratio / made.radius
    point = operating_point(d, w)
    if np.isnan(point.torque[0, 0]):
        return
    # Just above, volts are used up at the point that holds.
    volts = sagged_voltage(d, input_power(d, w, point.current_d, point.current_q))
    asked = demanded_voltage(d, w, point.current_d, point.current_q)
    assert asked[0, 0] >= volts[0, 0] * (1 - 1e-4)


@SOME
@given(SEEDS, st.floats(0.01, 0.99))
def test_rim_force_never_rises_with_speed(seed, share):
    made = batch(seed)
    speed = np.linspace(0, 30, 40) * share
    force = draw(made, speed).rim_force[0]
    live = force[~np.isnan(force)]
    assert np.all(np.diff(live) <= 1e-9 * max(live[:1], default=0))
