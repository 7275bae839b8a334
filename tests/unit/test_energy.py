"""Energy over speed, range between two states of charge, rides of stretches."""

from dataclasses import replace

import numpy as np
import pytest

from curves import JobError, load_job
from curves.motion.energy import consumption, ride, steady_range
from curves.parts.pack import cell_voltage
from curves.setups.stack import stack
from curves.steady.envelope import envelope
from curves.units import KMH
from tests.runs_cases import rigs

SOURCE = "open_circuit_v = 50.0\nresistance_ohm = 0.0"


def demo(name="13 cells", **tables):
    rig = load_job(None).rig(name)
    parts = {part: getattr(rig, part).model_copy(update=new) for part, new in tables.items()}
    return replace(rig, **parts)


def test_without_loss_a_kilometre_costs_the_road_load():
    setup = rigs(bike="road_load_n = [20.0, 0.0, 0.3]")
    v = np.array([3.0, 8.0])
    got = consumption(setup, v)
    # 1 N over 1 km is 1 kJ, and 3.6 kJ are 1 Wh.
    assert got.wh_per_km[0] == pytest.approx((20 + 0.3 * v**2) / 3.6)
    assert got.cells_wh_per_km[0] == pytest.approx(got.wh_per_km[0])


def test_riders_watts_come_off():
    v = np.array([5.0])
    alone, helped = demo(), demo(bike={"rider_power_w": 50.0})
    saved = consumption([alone], v).power - consumption([helped], v).power
    assert saved[0, 0] > 50.0
    strong = consumption([demo(bike={"rider_power_w": 2000.0})], v)
    assert strong.power[0, 0] == stack([alone]).batch().drive.standby_w[0, 0]


def test_what_is_not_held_is_not_a_number():
    assert np.isnan(consumption([demo()], np.array([30.0])).wh_per_km[0, 0])


def test_range_of_cells_without_resistance_is_their_energy():
    # Charge times open-circuit voltage, over the whole published curve, by a fine trapezoid.
    rig = demo(
        pack={"cell_resistance_mohm": 0.0, "wiring_resistance_mohm": 0.0, "bms_cutoff_v": None},
        tune={"low_voltage_cutoff_v": None},
    )
    v = np.array([5.0])
    got = steady_range([rig], v)
    charge = np.linspace(0.0, 1.0, 20001)
    volts = cell_voltage("nmc-21700", charge)
    energy = np.sum((volts[1:] + volts[:-1]) / 2) / 20000 * 13 * 5 * 4.8 * 3600
    assert got.held[0, 0]
    assert got.energy[0, 0] == pytest.approx(energy, rel=1e-6)
    power = consumption([rig], v).power[0, 0]
    assert got.time[0, 0] == pytest.approx(energy / power, rel=1e-6)
    assert got.distance[0, 0] == pytest.approx(5 * energy / power, rel=1e-6)


def test_resistance_and_cut_off_cost_range():
    rig = demo()
    v = np.array([20, 30, 40]) * KMH
    got = steady_range([rig], v)
    assert not got.held.any()
    assert np.all(np.diff(got.last_charge[0]) > 0)
    # At its last charge the pack is at a limit: a little less and the speed is not held.
    for speed, last in zip(v, got.last_charge[0], strict=True):
        above = replace(rig, state_of_charge=float(last) + 1e-9)
        below = replace(rig, state_of_charge=float(last) - 1e-6)
        assert not np.isnan(consumption([above], np.array([speed])).power[0, 0])
        assert np.isnan(consumption([below], np.array([speed])).power[0, 0])


def test_half_the_charge_is_the_difference_of_two_ranges():
    v = np.array([7.0])
    whole = steady_range([demo()], v, full=1.0, empty=0.2).distance
    parts = [steady_range([demo()], v, full=a, empty=b).distance for a, b in ((1, 0.6), (0.6, 0.2))]
    assert whole == pytest.approx(sum(parts), rel=1e-9)


def test_range_needs_a_capacity_and_a_speed_that_is_held():
    assert np.isnan(steady_range(rigs(pack=SOURCE), np.array([5.0])).distance[0, 0])
    assert np.isnan(steady_range([demo()], np.array([30.0])).distance[0, 0])
    with pytest.raises(ValueError, match="within 0 and 1"):
        steady_range([demo()], np.array([5.0]), empty=1.2)


def test_ride_of_one_stretch_is_a_steady_range():
    v = 8.0
    far = steady_range([demo()], np.array([v]), full=1.0, empty=0.5)
    got = ride([demo()], np.array([[v, 0.0, float(far.distance[0, 0])]]))
    assert got.done[0]
    assert got.held[0, 0]
    # Strides of 4 % of the charge, each by its middle: good to 1e-4.
    assert got.charge[0, 0] == pytest.approx(0.5, abs=1e-4)
    assert got.cells[0, 0] == pytest.approx(far.energy[0, 0], rel=1e-4)
    assert got.time[0, 0] == pytest.approx(far.time[0, 0], rel=1e-9)


def test_ride_up_and_down():
    up_and_down = np.array([[6.0, 0.05, 1000.0], [8.0, -0.06, 1000.0], [50.0, 0.0, 500.0]])
    got = ride([demo()], up_and_down)
    assert got.energy[0, 0] > 10 * got.energy[0, 1]
    # Down the hill the brakes work and the motor is off.
    standby = stack([demo()]).batch().drive.standby_w[0, 0]
    assert got.energy[0, 1] == pytest.approx(standby * 1000 / 8)
    assert got.held[0].tolist() == [True, True, False]
    top = np.nanmax(envelope([demo()], np.array([0.0])).speed)
    assert got.speed[0, 2] > top


def test_an_empty_pack_does_not_arrive():
    got = ride([demo()], np.array([[8.0, 0.0, 5e6]]))
    assert not got.done[0]
    assert np.isinf(got.time[0, 0])


@pytest.mark.parametrize("bad", [[0.0, 0.0, 10.0], [5.0, 0.0, 0.0], [5.0, np.nan, 10.0]])
def test_impossible_stretches(bad):
    with pytest.raises(JobError, match="stretch 1"):
        ride([demo()], np.array([bad]))
