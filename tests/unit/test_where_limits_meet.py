"""The cases in which solvers go astray, each against a closed form derived beside it.

The machine: R = 0 unless said, one phase, peak values; e = p w. Without saliency |v| is e L times
the distance of the current from the point (-I_ch, 0), I_ch = flux / L.
"""

import numpy as np
import pytest

from curves.point.gains import LIMIT_WORDS, gains
from curves.point.limits import SQRT3, input_power, sagged_voltage
from curves.point.solve import operating_point
from curves.steady.balance import top_speed
from curves.steady.envelope import envelope
from curves.units import KMH
from tests.drives import drive
from tests.unit.one_rig import rig

SIX_STEP = 2 * SQRT3 / np.pi
FLUX, L, PAIRS, VOLTS = 0.02, 200e-6, 4.0, 48.0
REACH = FLUX / L
"""The characteristic current, 100 A."""
IDEAL = VOLTS / SQRT3 / (PAIRS * FLUX)
"""Rotor speed, rad/s, at which the back-EMF alone uses the volts up."""


def machine(**given):
    values = {"pole_pairs": PAIRS, "flux": FLUX, "ld": L, "lq": L, "open_circuit_v": VOLTS}
    return drive(**values | {"vector_a": 150.0, "weakening_a": 1e6} | given)


def point(d, w):
    found = operating_point(d, np.array([w]))
    held = gains(d, np.array([w]), found)
    named = {word for word, on in zip(LIMIT_WORDS[:6], held.limited[0], strict=True) if on}
    return tuple(float(x[0]) for x in found), named, held


@pytest.mark.parametrize("times", [2.0, 5.0, 40.0])
def test_past_the_characteristic_current_weakening_pays_no_more(times):
    # The least distance at a height i_q is straight above (-I_ch, 0): there i_d stays.
    w = times * IDEAL
    (torque, i_d, i_q), named, held = point(machine(), w)
    height = VOLTS / SQRT3 / (PAIRS * w * L)
    assert i_d == pytest.approx(-REACH, rel=1e-9)
    assert i_q == pytest.approx(height, rel=1e-9)
    assert torque == pytest.approx(1.5 * PAIRS * FLUX * height, rel=1e-9)
    assert named == {"voltage"}
    assert held.weakening[0] == 0
    # With less than that allowed, weakening is a limit; with just as much, no more.
    _, named, held = point(machine(weakening_a=(1 - 0.5 / times) * REACH), w)
    assert named == {"field weakening current", "voltage"}
    assert held.weakening[0] > 0


def test_a_design_without_a_top_speed_drives_on_for_ever():
    # Power on that line is 1.5 V_ph I_ch at any speed (V_ph = V / sqrt 3).
    for w in IDEAL * np.array([2.0, 100.0, 1e4]):
        (torque, *_), _, _ = point(machine(), w)
        assert torque * w == pytest.approx(1.5 * VOLTS / SQRT3 * REACH, rel=1e-8)
    # As a setup: no drag, no no-load speed, and a top speed all the same.
    endless = rig(
        motor__no_load_torque_nm=0.0,
        motor__no_load_torque_nm_per_rad_s=0.0,
        motor__max_rpm=None,
        motor__inductance_q_uh=2000.0,
        motor__inductance_d_uh=2000.0,
        tune__field_weakening_a=1000.0,
    )
    found = envelope([endless], np.array([10.0, 100.0, 300.0]) * KMH)
    assert np.isnan(top_speed([endless]).no_load_speed[0])
    assert np.all(found.torque > 0)


@pytest.mark.parametrize("modulation", [0.5, 0.95, 1.0, SIX_STEP])
def test_volts_up_to_six_step_scale_the_speed_at_which_they_end(modulation):
    # Phase peak m V / sqrt 3; at six-step 2 V / pi (from memory: van der Broeck et al. 1988).
    d = machine(modulation=modulation, weakening_a=0.0, vector_a=60.0)
    base = modulation * VOLTS / SQRT3 / (PAIRS * np.hypot(FLUX, L * 60.0))
    assert point(d, base * (1 - 1e-5))[1] == {"phase current"}
    assert "voltage" in point(d, base * (1 + 1e-5))[1]
    if modulation == SIX_STEP:
        assert modulation * VOLTS / SQRT3 == pytest.approx(2 * VOLTS / np.pi, rel=1e-15)


def test_a_phase_limit_on_the_torque_part_lets_the_whole_current_pass_it():
    # i_q stays at its limit and i_d comes on top: (x, 60) with |v| just met, x from the circle.
    d = machine(vector_a=np.inf, torque_a=60.0)
    w = 1.2 * IDEAL
    (_, i_d, i_q), _, _ = point(d, w)
    across = np.sqrt((VOLTS / SQRT3 / (PAIRS * w * L)) ** 2 - 60.0**2)
    assert i_q == pytest.approx(60.0, rel=1e-12)
    assert i_d == pytest.approx(-REACH + across, rel=1e-9)
    assert np.hypot(i_d, i_q) > 60.0
    # A salient machine takes all the i_d it may at rest, for it adds torque at the same i_q.
    d = machine(lq=2 * L, vector_a=np.inf, torque_a=60.0, weakening_a=35.0, resistance=0.01)
    (_, i_d, i_q), named, _ = point(d, 0.1 * IDEAL)
    assert (i_d, i_q) == pytest.approx((-35.0, 60.0), rel=1e-9)
    assert named == {"phase current", "field weakening current"}


def test_measured_saturation_where_volts_end_as_well():
    # Two straight pieces: factor 1 to 50 A, 0.9 from 150 A on. By trying currents on the circle
    # of the voltage limit, i_d finely; the torque's peak is flat, so 1e-7 of it is enough.
    table = {"derating_a": np.array([[50.0, 150.0]]), "derating": np.array([[1.0, 0.9]])}
    d, w = machine()._replace(**table), 1.5 * IDEAL
    (torque, i_d, i_q), _, _ = point(d, w)
    height = VOLTS / SQRT3 / (PAIRS * w * L)
    x = np.linspace(-REACH, 0.0, 2_000_001)
    y = np.sqrt(np.maximum(height**2 - (x + REACH) ** 2, 0.0))
    length = np.hypot(x, y)
    y, length = np.where(length <= 150.0, y, 0.0), np.minimum(length, 150.0)
    best = 1.5 * PAIRS * FLUX * np.max(y * np.interp(length, [50.0, 150.0], [1.0, 0.9]))
    assert torque == pytest.approx(best, rel=1e-7)
    assert np.hypot(i_d + REACH, i_q) == pytest.approx(height, rel=1e-9)


def test_zero_resistance_is_the_limit_of_less_and_less():
    w = 1.3 * IDEAL
    exact, named, _ = point(machine(), w)
    for ohm, near in ((1e-4, 1e-2), (1e-7, 1e-5), (1e-10, 1e-8)):
        got, same, _ = point(machine(resistance=ohm), w)
        assert got == pytest.approx(exact, rel=near)
        assert same == named


@pytest.mark.parametrize("times", [0.2, 0.9, 1.5, 4.0])
def test_zero_saliency_is_the_limit_of_less_and_less(times):
    w = times * IDEAL
    exact, named, _ = point(machine(resistance=0.02), w)
    for more in (1e-3, 1e-6, 1e-9):
        got, same, _ = point(machine(resistance=0.02, lq=L * (1 + more)), w)
        assert got == pytest.approx(exact, rel=3 * more, abs=150.0 * 3 * more)
        assert same == named


def test_no_inductance_saliency_or_resistance_at_all_is_driven_to_the_ideal_speed():
    d = machine(ld=0.0, lq=0.0)
    assert point(d, 0.999 * IDEAL)[0][2] == pytest.approx(150.0)
    assert np.isnan(point(d, 1.001 * IDEAL)[0][0])


def test_a_stiff_pack_keeps_its_volts_and_has_no_limit_of_its_own():
    d = machine(resistance=0.02, pack_resistance=0.0)
    w = 0.3 * IDEAL
    (_, i_d, i_q), named, held = point(d, w)
    power = input_power(d, np.array([w]), np.array([i_d]), np.array([i_q]))
    assert sagged_voltage(d, power)[0] == VOLTS
    assert named == {"phase current"}
    assert held.pack[0] == 0


@pytest.mark.parametrize("ohm", [2.0, 50.0, 1e4])
def test_a_pack_of_huge_resistance_is_the_limit_itself(ohm):
    # Load match: the most a source gives is V^2 / 4 R, at half its volts.
    d = machine(resistance=0.02, pack_resistance=ohm)
    w = 0.3 * IDEAL
    (torque, i_d, i_q), named, _ = point(d, w)
    power = input_power(d, np.array([w]), np.array([i_d]), np.array([i_q]))[0]
    assert power == pytest.approx(VOLTS**2 / (4 * ohm), rel=1e-9)
    assert torque * w + 0.03 * (i_d**2 + i_q**2) == pytest.approx(power, rel=1e-12)
    assert named == {"pack current"}
