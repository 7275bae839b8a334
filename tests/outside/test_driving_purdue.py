"""Interior magnets, least current for a torque, with battery current.

Source: analysis project of Purdue University's graduate course on electric drives (a student
report with the course's parameters, 2023): 8 poles, flux 0.2 V s, 0.02 ohm, Ld 2 mH, Lq 3.3 mH a
phase, 400 V, 500 rpm. For +400 N m: i_q 184.97, i_d -123.40, v_q -6.10, v_d -130.3, 22.43 kW,
battery 56.1 A; the phase limit that gives it 222.35 A. Balance (derived): 20 943.95 W at the
shaft and 1483.24 W in copper make 22 427.19 W. Tolerances are half a unit of the last printed
digit, widened where the printed phase limit (0.005 A) moves the figure more.
"""

import numpy as np
import pytest

from curves.point.gains import gains
from curves.point.limits import input_power, phase_voltage
from curves.point.solve import operating_point
from tests.drives import RPM, drive

W = np.array([500 * RPM])
MACHINE = drive(
    pole_pairs=4,
    flux=0.2,
    resistance=0.02,
    ld=2e-3,
    lq=3.3e-3,
    open_circuit_v=400.0,
    vector_a=222.35,
    weakening_a=222.35,
)


def test_most_torque_for_the_phase_current():
    got = operating_point(MACHINE, W)
    # 0.005 A of the limit is 0.02 N m here.
    assert got.torque[0] == pytest.approx(400.0, abs=0.02)
    assert got.current_q[0] == pytest.approx(184.97, abs=0.01)
    assert got.current_d[0] == pytest.approx(-123.40, abs=0.01)
    v_d, v_q = phase_voltage(MACHINE, W, got.current_d, got.current_q)
    assert v_d[0] == pytest.approx(-130.3, abs=0.05)
    assert v_q[0] == pytest.approx(-6.10, abs=0.01)
    power = input_power(MACHINE, W, got.current_d, got.current_q)[0]
    assert power == pytest.approx(22.43e3, abs=5)
    assert power / 400 == pytest.approx(56.1, abs=0.05)
    assert gains(MACHINE, W, got).limited[0].tolist() == [True, *[False] * 5]


def test_balance():
    i_d, i_q = np.array([-123.40]), np.array([184.97])
    copper = 1.5 * 0.02 * (i_d**2 + i_q**2)
    # The currents are printed to 0.005 A, some 0.05 W of copper and 1 W at the shaft.
    assert copper[0] == pytest.approx(1483.24, abs=0.1)
    assert input_power(MACHINE, W, i_d, i_q)[0] == pytest.approx(22427.19, abs=1.5)
