"""Flux weakening of a surface-magnet machine.

Source: Fitzgerald, Kingsley, Umans, Electric Machinery, 6th ed. 2003, Example 11.10, p. 593
(figures as printed in a worked-example companion to the book): 25 kW, 4000 rpm, 220 V line-line
rms, 2 poles, 220 V open circuit at 3200 rpm, 1.75 mH a phase, no resistance, torque 65 % of
rated. Printed: i_q 48.2 A peak, flux with i_d = 0 1.27 pu, i_d for rated flux -66.1 A, 58.0 A
rms, 0.88 pu. The exact figures and the envelope are derived from the same data (closed forms of a
lossless surface-magnet machine).
"""

import numpy as np
import pytest

from curves.numerics.roots import bracketed_root
from curves.point.limits import phase_voltage
from curves.point.solve import operating_point, voltage_room
from tests.drives import RPM, SQRT3, drive

PHASE_V = 220 * np.sqrt(2) / SQRT3
AMPERES = 25e3 / (1.5 * PHASE_V)
FLUX = PHASE_V / (3200 * RPM)
MACHINE = drive(
    pole_pairs=1,
    flux=FLUX,
    ld=1.75e-3,
    lq=1.75e-3,
    open_circuit_v=PHASE_V * SQRT3,
    vector_a=AMPERES,
    weakening_a=1e6,
)


def torque(rpm):
    return operating_point(MACHINE, np.array([rpm]) * RPM).torque[0]


def test_the_example_as_printed():
    wanted = 0.65 * 25e3 / (4000 * RPM)
    i_q = wanted / (1.5 * FLUX)
    # Half a unit of the last digit derived.
    assert pytest.approx(0.536042, abs=5e-7) == FLUX
    assert i_q == pytest.approx(48.2475, abs=5e-5)
    rated_flux = PHASE_V / (4000 * RPM)
    v_d, v_q = phase_voltage(MACHINE, np.array([4000 * RPM]), np.zeros(1), np.array([i_q]))
    assert np.hypot(v_d, v_q)[0] / PHASE_V == pytest.approx(1.26541, abs=5e-6)
    i_d = -66.0586
    v_d, v_q = phase_voltage(MACHINE, np.array([4000 * RPM]), np.array([i_d]), np.array([i_q]))
    # The last digit of i_d moves the flux by 1.75 mH times 5e-5 A.
    assert np.hypot(v_d, v_q)[0] / (4000 * RPM) == pytest.approx(rated_flux, abs=1e-7)
    assert np.hypot(i_d, i_q) / np.sqrt(2) == pytest.approx(57.843, abs=5e-4)
    assert np.hypot(i_d, i_q) / AMPERES == pytest.approx(0.88164, abs=5e-6)


def test_less_torque_than_the_example_can_be_had_at_its_speed_and_flux():
    # With its rated current and voltage the machine gives more than 65 % of rated torque there.
    assert torque(4000) > 0.65 * 25e3 / (4000 * RPM)


@pytest.mark.parametrize(
    ("rpm", "wanted", "tolerance"),
    [
        (1000, 74.604, 5e-4),
        (3062, 74.604, 5e-4),
        (3500, 67.6252, 5e-5),
        (4000, 49.7078, 5e-5),
        (4500, 18.8902, 5e-5),
    ],
)
def test_torque_of_the_derived_envelope(rpm, wanted, tolerance):
    assert torque(rpm) == pytest.approx(wanted, abs=tolerance)


def test_rated_power_exactly_where_derived():
    # Half a unit of 3357.75 rpm; power is near its peak there, so this holds to 1e-6 and better.
    assert torque(3357.75) * 3357.75 * RPM == pytest.approx(25e3, rel=1e-6)


def test_base_speed():
    def room(w, _):
        return voltage_room(MACHINE, w)

    low, high = np.array([2000 * RPM]), np.array([4000 * RPM])
    every = np.arange(1)
    root = bracketed_root(room, low, high, room(low, every), room(high, every))
    assert root[0] / RPM == pytest.approx(3062.58, abs=5e-3)


def test_the_envelope_ends_where_derived():
    assert torque(4590.49) > 0
    assert np.isnan(torque(4590.51))
