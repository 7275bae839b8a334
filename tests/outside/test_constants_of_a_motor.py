"""Kv, flux and torque constant.

Sources: Purdue ECE 321 laboratory 10 (line-line peak e = sqrt(3) w flux, T = 1.5 p flux I_peak);
the machine of Fitzgerald's Example 11.10; Burman, Special Electrical Machines, Examples 4.1 and
4.4, p. 216 (line-line model, used for Kv and k only). Figures derived from them; tolerance half a
unit of their last digit.
"""

import numpy as np
import pytest

from curves.parts.controller import SIX_STEP
from curves.parts.motor import flux_linkage
from curves.point.limits import SQRT3, electromagnetic_torque
from tests.drives import RPM, drive


def torque_per_peak_ampere(kv, pairs):
    d = drive(pole_pairs=pairs, flux=float(flux_linkage(kv, pairs)))
    return electromagnetic_torque(d, np.zeros(1), np.ones(1))[0]


def test_inverter_voltage_limits():
    # Peak phase volts per pack volt: 1/sqrt(3) linear, 2/pi six-step (van der Broeck et al., IEEE
    # Trans. Ind. Appl. 24(1), 1988; Holmes and Lipo 2003; from memory).
    assert pytest.approx(0.577350, abs=5e-7) == 1 / SQRT3
    assert pytest.approx(0.636620, abs=5e-7) == SIX_STEP / SQRT3


def test_kv_100_with_23_pole_pairs():
    assert float(flux_linkage(100.0, 23)) * 1e3 == pytest.approx(2.39708, abs=5e-6)
    k = torque_per_peak_ampere(100.0, 23)
    assert k == pytest.approx(0.0826993, abs=5e-8)
    assert k * np.sqrt(2) == pytest.approx(0.116955, abs=5e-7)
    # The convention of direct-current motors, 60 / 2 pi Kv, is 2 / sqrt(3) times as much.
    assert k * 2 / SQRT3 == pytest.approx(0.0954930, abs=5e-8)


@pytest.mark.parametrize(("pairs", "kv"), [(1, 100.0), (23, 8.2), (7, 190.0)])
def test_torque_constant_times_kv(pairs, kv):
    assert torque_per_peak_ampere(kv, pairs) * kv == pytest.approx(8.2699, abs=5e-5)
    assert torque_per_peak_ampere(kv, pairs) * np.sqrt(2) * kv == pytest.approx(11.6955, abs=5e-5)


def test_fitzgerald_machine():
    # 220 V rms line to line at 3200 rpm.
    kv = 3200 / (220 * np.sqrt(2))
    assert kv == pytest.approx(10.28519, abs=5e-6)
    assert torque_per_peak_ampere(kv, 1) == pytest.approx(0.8040623, abs=5e-8)


def test_burman_no_load():
    # 48 V over 0.12 V s/rad is 3819.7 rpm, so Kv is 79.577 rpm/V.
    kv = 1 / (0.12 * RPM)
    assert kv * 48 == pytest.approx(3819.7, abs=0.05)
    for pairs in (2, 4):
        line_v = SQRT3 * pairs * float(flux_linkage(kv, pairs))
        assert line_v == pytest.approx(0.12, rel=1e-14)
