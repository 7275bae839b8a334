"""Closed forms of a lossless surface-magnet machine under unlimited weakening.

Source: the normalisation of Soong and Miller, IEE Proc. Electr. Power Appl. 141(6), 1994; theory
also Schiferl and Lipo 1990, Jahns 1987, Morimoto et al. 1990. V = I = base speed = 1, flux^2 +
L^2 = 1, power in units of 1.5 V I. The figures are derived from those forms (their last printed
digit is the tolerance).
"""

import numpy as np
import pytest

from curves.point.solve import operating_point
from tests.drives import SQRT3, drive


def machine(inductance):
    return drive(
        pole_pairs=1,
        flux=np.sqrt(1 - inductance**2),
        ld=inductance,
        lq=inductance,
        open_circuit_v=SQRT3,
        vector_a=1.0,
        weakening_a=1e6,
    )


def power(inductance, speed):
    got = operating_point(machine(inductance), np.array([float(speed)])).torque[0]
    return np.nan_to_num(got) * speed / 1.5


@pytest.mark.parametrize(
    ("inductance", "speed", "wanted"),
    [
        (0.3, 1, 0.9539),
        (0.3, 1.5, 0.3442),
        (0.3, 2, 0),
        (0.3, 3, 0),
        (0.6, 1, 0.8),
        (0.6, 1.5, 0.9786),
        (0.6, 2, 0.9987),
        (0.6, 3, 0.9065),
        (np.sqrt(0.5), 1, 0.7071),
        (np.sqrt(0.5), 1.5, 0.8819),
        (np.sqrt(0.5), 2, 0.9354),
        (np.sqrt(0.5), 3, 0.9718),
        (0.9, 1, 0.4359),
        (0.9, 1.5, 0.4843),
        (0.9, 2, 0.4843),
        (0.9, 3, 0.4843),
    ],
)
def test_power_over_speed(inductance, speed, wanted):
    assert power(inductance, speed) == pytest.approx(wanted, abs=5e-5)


@pytest.mark.parametrize(("inductance", "end"), [(0.3, 1.5292), (0.6, 5.0)])
def test_top_of_a_finite_speed_design(inductance, end):
    # 1 / (flux - L); the printed digits bracket it.
    assert 1 / (np.sqrt(1 - inductance**2) - inductance) == pytest.approx(end, abs=5e-5)
    assert power(inductance, end - 1e-4) > 0
    assert power(inductance, end + 1e-4) == 0


@pytest.mark.parametrize("inductance", [0.3, 0.6])
def test_peak_power_is_all_of_it(inductance):
    # At 1 / sqrt(flux^2 - L^2) the power factor is one: derived, so to rounding.
    at = 1 / np.sqrt(1 - 2 * inductance**2)
    assert power(inductance, at) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(("inductance", "ratio"), [(0.3, 1.2195), (0.6, 3.5714)])
def test_constant_power_ratio(inductance, ratio):
    # The highest speed that still gives the power of base speed, as a ratio to it.
    assert 1 / (1 - 2 * inductance**2) == pytest.approx(ratio, abs=5e-5)
    assert power(inductance, ratio) == pytest.approx(power(inductance, 1.0), abs=1e-4)


@pytest.mark.parametrize("speed", [1.3, 5.0, 50.0, 5000.0])
def test_torque_per_volt_region_of_an_infinite_speed_design(speed):
    # flux < L: from 1.2700 on the power is flux / L at i_d = -flux / L, however fast.
    flux = np.sqrt(1 - 0.81)
    point = operating_point(machine(0.9), np.array([speed]))
    assert power(0.9, speed) == pytest.approx(flux / 0.9, rel=1e-12)
    # Torque is flat about its peak: the current is known to the root of the arithmetic's precision.
    assert point.current_d[0] == pytest.approx(-flux / 0.9, abs=1e-6)


@pytest.mark.parametrize("speed", [1.1, 1.4, 2.0, 4.5])
def test_current_on_the_circle(speed):
    inductance, flux = 0.6, 0.8
    wanted = (1 / speed**2 - flux**2 - inductance**2) / (2 * flux * inductance)
    point = operating_point(machine(inductance), np.array([speed]))
    assert point.current_d[0] == pytest.approx(wanted, abs=1e-12)
    assert np.hypot(point.current_d, point.current_q)[0] == pytest.approx(1.0, abs=1e-12)
