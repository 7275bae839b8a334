"""Least current for a torque with interior magnets, driving and braking.

Source: analysis project of Purdue University's graduate course on electric drives (a student
report with the course's parameters, 2023): 8 poles, flux 0.2 V s, 0.02 ohm, Ld 2 mH, Lq 3.3 mH a
phase, 400 V, 500 rpm. +400 N m: i_q 184.97, i_d -123.40, v_q -6.10, v_d -130.3, 22.43 kW, battery
56.1 A; -400 N m: i_q -184.97, v_q -13.5, v_d 125.4, -19.46 kW, -48.7 A. Tolerance: half a unit of
the last printed digit.
"""

import numpy as np
import pytest

from curves.point.limits import input_power, phase_voltage
from curves.point.part_load import part_load
from tests.drives import RPM, drive

W = np.array([500 * RPM])
MACHINE = drive(
    pole_pairs=4,
    flux=0.2,
    resistance=0.02,
    ld=2e-3,
    lq=3.3e-3,
    open_circuit_v=400.0,
    # The report's own limit is 222.35 A, half a unit below what 400 N m take.
    vector_a=222.36,
    weakening_a=123.5,
)


@pytest.mark.parametrize(
    ("torque", "i_q", "v_q", "q_digit", "v_d", "d_digit", "kilowatts", "amperes"),
    [
        (400.0, 184.97, -6.10, 0.01, -130.3, 0.1, 22.43, 56.1),
        (-400.0, -184.97, -13.5, 0.1, 125.4, 0.1, -19.46, -48.7),
    ],
)
def test_least_current(torque, i_q, v_q, q_digit, v_d, d_digit, kilowatts, amperes):
    got = part_load(MACHINE, W, np.array([torque]))
    assert got.current_q[0] == pytest.approx(i_q, abs=5e-3)
    assert got.current_d[0] == pytest.approx(-123.40, abs=5e-3)
    along_d, along_q = phase_voltage(MACHINE, W, got.current_d, got.current_q)
    assert along_q[0] == pytest.approx(v_q, abs=q_digit / 2)
    assert along_d[0] == pytest.approx(v_d, abs=d_digit / 2)
    power = input_power(MACHINE, W, got.current_d, got.current_q)[0]
    assert power == pytest.approx(kilowatts * 1e3, abs=5.0)
    assert power / 400 == pytest.approx(amperes, abs=0.05)
