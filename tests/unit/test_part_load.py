"""Least current for a torque, and what holding a rim force takes."""

from dataclasses import replace

import numpy as np
import pytest

from curves import load_job, load_profile
from curves.point.limits import (
    demanded_voltage,
    derated_torque,
    input_power,
    sagged_voltage,
)
from curves.point.part_load import part_load
from curves.point.solve import operating_point
from curves.setups.stack import stack
from curves.steady.envelope import envelope
from curves.steady.part_load import hold, ride_at
from curves.units import KMH

SHARES = (0.0, 0.1, 0.5, 0.9, 0.999, 1.0)


def drives():
    """The demo's drives: as they are, with much saliency, and with measured saturation."""
    d = stack(load_job(None).rigs()).batch().drive
    yield d
    yield d._replace(lq=2 * d.lq, weakening_a=d.weakening_a + 20)
    points = np.broadcast_to(np.array([0.0, 40.0, 80.0]), (d.lq.shape[0], 1, 3))
    factor = np.broadcast_to(np.array([1.0, 0.95, 0.85]), points.shape)
    yield d._replace(derating_a=points, derating=factor, weakening_a=d.weakening_a + 30)


@pytest.mark.parametrize("case", range(3))
@pytest.mark.parametrize("share", SHARES)
def test_shortest_vector_within_the_limits(case, share):
    d = list(drives())[case]
    w = np.linspace(0.1, 45.0, 12)
    top = operating_point(d, w)
    got = part_load(d, w, share * top.torque, top)
    can = ~np.isnan(top.torque)
    assert np.array_equal(np.isnan(got.current_d), ~can)
    flat = type(d)(*(np.broadcast_to(x, top.torque.shape)[can] for x in d[:-2]), *_tables(d, can))
    speed = np.broadcast_to(w, can.shape)[can]
    i_d, i_q = got.current_d[can], got.current_q[can]
    torque = derated_torque(flat, i_d, i_q)
    assert torque == pytest.approx(share * top.torque[can], rel=1e-9, abs=1e-9)
    power = input_power(flat, speed, i_d, i_q)
    room = sagged_voltage(flat, power) - demanded_voltage(flat, speed, i_d, i_q)
    assert room.min() > -1e-8
    # No shorter vector gives that torque within the limits: look along the curve of the torque.
    for shift in (-0.5, -0.01, 0.01, 0.5):
        other_d = np.minimum(i_d + shift, 0.0)
        other_q = _torque_current(flat, torque, other_d)
        power = input_power(flat, speed, other_d, other_q)
        held = sagged_voltage(flat, power) >= demanded_voltage(flat, speed, other_d, other_q) - 1e-9
        held &= other_d >= -flat.weakening_a
        longer = np.hypot(other_d, other_q) >= np.hypot(i_d, i_q) - 1e-7
        assert np.all(longer | ~held)


def _tables(d, can):
    shape = (*can.shape, d.derating.shape[-1])
    return (np.broadcast_to(x, shape)[can] for x in (d.derating_a, d.derating))


def _torque_current(d, torque, i_d):
    """The i_q that gives a torque, by bisection: slow and independent."""
    low, high = np.zeros_like(torque), np.full_like(torque, 500.0)
    for _ in range(200):
        middle = (low + high) / 2
        less = derated_torque(d, i_d, middle) < torque
        low, high = np.where(less, middle, low), np.where(less, high, middle)
    return high


def test_too_much_torque_is_not_held():
    d = stack(load_job(None).rigs()).batch().drive
    most = operating_point(d, np.array([10.0])).torque
    assert np.isnan(part_load(d, np.array([10.0]), most * 1.001).current_q).all()


def test_holding_the_envelope_is_the_envelope():
    setups = load_job(None).rigs()
    v = np.array([3.0, 8.0, 10.0])
    full = envelope(setups, v)
    held = hold(stack(setups).batch(), v, full.rim_force * (1 - 1e-12))
    assert held.power == pytest.approx(full.pack_power, rel=1e-6)
    assert held.winding_w == pytest.approx(full.losses["winding"], rel=1e-6)


def test_powers_add_up():
    setups = load_job(None).rigs()
    b, v = stack(setups).batch(), np.array([2.0, 6.0, 9.0])
    force = np.full((len(setups), 3), 40.0)
    h = hold(b, v, force)
    out = force * v
    spent = h.winding_w + h.controller_w + h.no_load_w + h.gears_w + b.drive.standby_w
    assert h.power == pytest.approx(out + spent, rel=1e-12)


@pytest.mark.parametrize("clutch", [False, True])
def test_road_that_pushes(clutch):
    (rig,) = load_job(None).rigs()[:1]
    rig = replace(rig, motor=rig.motor.model_copy(update={"overrunning_clutch": clutch}))
    b, v = stack([rig]).batch(), np.array([6.0])
    h = hold(b, v, np.array([-200.0]))
    assert h.power[0, 0] == b.drive.standby_w[0, 0]
    dragged = 0.0 if clutch else h.no_load_w[0, 0] / 6
    assert h.brake_w[0, 0] == pytest.approx((200 - dragged) * 6)
    assert bool(h.no_load_w[0, 0] == 0) is clutch
    # A gentle push, less than the drag of a hub without a clutch, still needs a little torque.
    gentle = hold(b, v, np.array([-1.0]))
    assert bool(gentle.winding_w[0, 0] > 0) is not clutch


def test_a_mid_drive_takes_the_gear_of_least_power():
    (rig,) = load_job(None).rigs()[:1]
    bike = rig.bike.model_copy(update={"gear_ratios": (2.8, 1.9, 0.9), "final_drive_ratio": None})
    rig = replace(rig, motor=load_profile("demo-mid-drive"), bike=bike)
    b, v, force = stack([rig]).batch(), np.array([1.0, 4.0, 8.0]), np.array([60.0])
    best = hold(b, v, force).power
    each = [
        hold(b._replace(ratio=b.ratio[:, g, None]), v, force).power for g in range(b.ratio.shape[1])
    ]
    assert np.array_equal(best, np.fmin.reduce(each), equal_nan=True)
    assert not np.isnan(best[0, :2]).any()


def test_what_cannot_be_held_is_ridden_slower():
    setups = load_job(None).rigs()
    b = stack(setups).batch()
    got = ride_at(b, np.full(len(setups), 60 * KMH))
    assert not got.held.any()
    force = b.road.force(got.speed[:, None])[:, 0]
    pull = envelope(setups, np.array([0.0]))  # at rest it pulls harder
    assert np.all(pull.rim_force[:, 0] > force)
    still = ride_at(b, np.full(len(setups), 60 * KMH), slower=False)
    assert np.all(still.speed == 0)
    assert np.all(still.power == 0)


def test_speed_cap_needs_no_more_than_the_road_asks():
    (rig,) = load_job(None).rigs()[:1]
    rig = replace(rig, tune=rig.tune.model_copy(update={"speed_cap_kmh": 20.0}))
    b = stack([rig]).batch()
    capped = ride_at(b, np.array([30 * KMH]))
    free = ride_at(b, np.array([20 * KMH]))
    assert capped.speed[0] == pytest.approx(20 * KMH, rel=1e-9)
    assert capped.power[0] == pytest.approx(free.power[0], rel=1e-6)
