"""Laws the limits are made of: sag, most torque per ampere, derating."""

import numpy as np
import pytest

from curves.point.limits import Drive, derating_factor, mtpa_current_d, sagged_voltage

NONE = Drive(*(np.zeros(1),) * (len(Drive._fields) - 2), np.zeros((1, 1)), np.ones((1, 1)))
STIFF = NONE._replace(open_circuit_v=np.array(50.0))
PACK = STIFF._replace(pack_resistance=np.array(0.125))


def test_sagged_voltage_gives_the_power_asked():
    power = np.linspace(-3000, 4900, 80)
    volts = sagged_voltage(PACK, power)
    # The product is worked out from numbers of order 1e4, hence a few units of 1e-12 of that.
    assert volts * (50.0 - volts) / 0.125 == pytest.approx(power, abs=1e-8)
    assert sagged_voltage(STIFF, np.array(1e4)) == 50.0


def test_most_power_is_at_half_the_voltage():
    # Load match, V^2/4R: common practice.
    assert sagged_voltage(PACK, np.array(5000.0)) == 25.0


@pytest.mark.parametrize("by_torque", [False, True])
def test_most_torque_per_ampere_is_the_least_current_for_its_torque(by_torque):
    # Brute force on T ~ (flux + D |i_d|) i_q: of all currents that give this torque, the shortest.
    flux, saliency, amps = np.array(0.03), np.array(2e-4), np.array(60.0)
    found = float(mtpa_current_d(flux, saliency, amps, by_torque))
    i_q = amps if by_torque else np.sqrt(amps**2 - found**2)
    i_d = np.linspace(0, 60, 600_001)
    length = np.hypot(i_d, (flux + saliency * found) * i_q / (flux + saliency * i_d))
    # A valley is flat: its place is known to about the square root of the arithmetic's precision.
    assert found == pytest.approx(i_d[np.argmin(length)], abs=2e-3)


def test_no_saliency_needs_no_d_current():
    flux, amps = np.array(0.03), np.array([0.0, 100.0])
    assert mtpa_current_d(flux, np.array(0.0), amps).tolist() == [0.0, 0.0]


def test_derating_is_straight_between_points_and_held_outside():
    amps = np.array([0.0, 20.0, 40.0, 70.0, 500.0])
    table = NONE._replace(
        derating_a=np.tile([20.0, 60.0, 80.0], (5, 1)), derating=np.tile([1.0, 0.9, 0.8], (5, 1))
    )
    assert derating_factor(table, amps)[0] == pytest.approx([1, 1, 0.95, 0.85, 0.8])


def test_derating_slope_is_that_of_less_current():
    # At a point of the table the slope is the one on its left.
    table = NONE._replace(
        derating_a=np.array([[20.0, 60.0, 80.0]]), derating=np.array([[1, 0.9, 0.8]])
    )
    assert derating_factor(table, np.array([60.0]))[1] == pytest.approx([-0.0025])
