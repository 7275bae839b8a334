"""The solver's fast ways, held to the laws of the limits themselves."""

import numpy as np
import pytest

from curves.point.limits import (
    demanded_voltage,
    electromagnetic_torque,
    input_power,
    mtpa_current_d,
    sagged_voltage,
)
from curves.point.locus import Locus, Path
from tests.drives import drive

CASE = {
    "pole_pairs": 20.0,
    "flux": 0.03,
    "resistance": 0.09,
    "ld": 1.5e-4,
    "open_circuit_v": 55.0,
    "pack_resistance": 0.12,
    "standby_w": 6.0,
    "modulation": 0.95,
    "vector_a": 80.0,
    "weakening_a": 1e6,
}
SPEED = np.array([48.0])
EVERY = np.arange(1)


def machine(saliency):
    return drive(**CASE, lq=CASE["ld"] * saliency)


@pytest.mark.parametrize("saliency", [1.0, 1.6])
@pytest.mark.parametrize("angle", [0.1, 0.4, 0.9, 1.4])
def test_on_the_locus_the_voltage_limit_is_met_with_the_sag_of_that_point(saliency, angle):
    made = machine(saliency)
    locus = Locus(made, SPEED, np.array([1e6]), np.array([80.0]))
    i_d, i_q = locus.currents(np.array([angle]))
    volts = sagged_voltage(made, input_power(made, SPEED, i_d, i_q))
    # Both are worked out to rounding, of numbers of order 50.
    assert demanded_voltage(made, SPEED, i_d, i_q) == pytest.approx(volts, rel=1e-12)


@pytest.mark.parametrize("saliency", [1.0, 1.6])
def test_room_ends_where_torque_is_at_its_peak(saliency):
    made = machine(saliency)
    free = made._replace(vector_a=np.array([1e9]))
    locus = Locus(free, SPEED, np.array([np.inf]), np.array([80.0]))
    angles = np.linspace(0.2, 2.3, 4001)
    torque = [electromagnetic_torque(free, *locus.currents(np.array([a])))[0] for a in angles]
    peak = angles[int(np.argmax(torque))]
    # The grid places the peak to one step of 5e-4.
    assert locus.room(np.array([peak - 1e-3]), EVERY)[0] > 0
    assert locus.room(np.array([peak + 1e-3]), EVERY)[0] < 0


@pytest.mark.parametrize("saliency", [1.0, 1.6])
@pytest.mark.parametrize("current", [5.0, 40.0, 80.0])
def test_the_path_lacks_what_the_laws_say(saliency, current):
    made = machine(saliency)
    amps = np.array([current])
    depth = mtpa_current_d(made.flux, made.saliency, amps)
    i_q = np.sqrt(amps**2 - depth**2)
    volts = sagged_voltage(made, input_power(made, SPEED, -depth, i_q))
    wanted = demanded_voltage(made, SPEED, -depth, i_q) - volts
    # A difference of numbers of order 50.
    assert Path(made, SPEED).lack(amps, EVERY) == pytest.approx(wanted, abs=1e-11)
