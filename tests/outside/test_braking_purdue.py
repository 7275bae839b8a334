"""Interior magnets braking at least current for a torque, with battery current.

Source: analysis project of Purdue University's graduate course on electric drives (a student report
with the course's parameters, 2023): 8 poles, flux 0.2 V s, 0.02 ohm, Ld 2 mH, Lq 3.3 mH a phase,
400 V, 500 rpm, -400 N m: i_q -184.97 A, v_q -13.5 V, v_d 125.4 V, -19.46 kW, battery -48.7 A; the
phase limit that gives it 222.35 A. Tolerances are half a unit of the last printed digit.
"""

import numpy as np
import pytest

from curves.point.braking import BRAKING_LIMITS, braking_point
from curves.point.limits import Drive, input_power, phase_voltage

W = np.array([500 * 2 * np.pi / 60])


def drive() -> Drive:
    values = {
        "pole_pairs": 4.0,
        "flux": 0.2,
        "resistance": 0.02,
        "ld": 2e-3,
        "lq": 3.3e-3,
        "open_circuit_v": 400.0,
        "modulation": 1.0,
        "vector_a": 222.35,
        "torque_a": np.inf,
        "weakening_a": 222.35,
        "pack_a": np.inf,
        "cap_w": np.inf,
    }
    given = {name: np.array([values.get(name, 0.0)]) for name in Drive._fields}
    return Drive(**given | {"derating_a": np.array([[0.0]]), "derating": np.array([[1.0]])})


def test_most_torque_for_the_phase_current():
    got = braking_point(drive(), W, 1000.0, np.inf)
    assert got.torque[0] == pytest.approx(-400.0, abs=0.05)
    # Torque is flat over the current angle at its peak, so the printed 222.35 A (0.005) moves
    # the currents little, but the search finds them only to the square root of its torque.
    assert got.current_q[0] == pytest.approx(-184.97, abs=0.01)
    assert got.current_d[0] == pytest.approx(-123.40, abs=0.01)
    v_d, v_q = phase_voltage(drive(), W, got.current_d, got.current_q)
    assert v_d[0] == pytest.approx(125.4, abs=0.05)
    assert v_q[0] == pytest.approx(-13.5, abs=0.05)
    power = input_power(drive(), W, got.current_d, got.current_q)[0]
    assert power == pytest.approx(-19.46e3, abs=5)
    assert power / 400.0 == pytest.approx(-48.7, abs=0.05)
    assert got.met[0].tolist() == [name == "phase current" for name in BRAKING_LIMITS]


def test_a_battery_that_takes_less_holds_it_to_that():
    got = braking_point(drive(), W, 30.0, np.inf)
    power = input_power(drive(), W, got.current_d, got.current_q)[0]
    assert power == pytest.approx(-30.0 * 400.0, rel=1e-9)
    assert got.torque[0] > -400.0
