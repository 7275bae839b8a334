"""Laws of the motor: values, shapes, and the inputs refused."""

import numpy as np
import pytest
from pydantic import ValidationError

from curves.parts.motor import (
    Motor,
    copper_resistance,
    flux_linkage,
)

PLAIN = {
    "kv_rpm_per_v": 9.0,
    "resistance_ohm": 0.2,
    "inductance_d_uh": 200.0,
    "inductance_q_uh": 300.0,
    "pole_pairs": 16,
}


def test_flux_gives_back_the_voltage_it_was_read_from():
    # Derived: line-to-line peak is √3 ω λ (Purdue ECE 321), so 1 V at Kv rpm.
    kv, pairs = np.array([5.0, 58.0, 900.0]), np.array([23, 8, 4])
    electrical = pairs * kv * 2 * np.pi / 60
    assert np.sqrt(3) * electrical * flux_linkage(kv, pairs) == pytest.approx(1.0, rel=1e-14)


def test_shapes_broadcast():
    assert flux_linkage(np.ones((3, 1)), 10, np.ones(4), -0.001).shape == (3, 4)
    assert copper_resistance(np.ones((2, 1)), np.ones(5)).shape == (2, 5)


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([], "at least one pair"),
        ([[10, 0.9]], "must be 1, not 0.9"),
        ([[10, 1], [10, 0.9]], "must rise"),
        ([[20, 1], [10, 0.9]], "must rise"),
        ([[-1, 1]], "below 0"),
        ([[50, 1], [60, 0.5]], "between 50 and 60 A more current would give less torque"),
        # It rises from point to point, yet falls before the second: 75 A gives most.
        ([[50, 1], [100, 0.51]], "between 50 and 100 A"),
    ],
)
def test_impossible_saturation_is_refused(points, message):
    with pytest.raises(ValidationError, match=message):
        Motor(**PLAIN, torque_derating=points)


def test_possible_saturation_is_kept():
    motor = Motor(**PLAIN, torque_derating=[[50, 1], [100, 0.75]])
    assert motor.torque_derating == ((50.0, 1.0), (100.0, 0.75))


def test_equal_and_zero_inductances_are_legal():
    Motor(**{**PLAIN, "inductance_d_uh": 0, "inductance_q_uh": 0, "resistance_ohm": 0})


def test_a_whole_number_may_be_written_with_a_point():
    assert Motor(**{**PLAIN, "pole_pairs": 16.0}).pole_pairs == 16


def test_models_are_frozen():
    with pytest.raises(ValidationError, match="frozen"):
        Motor(**PLAIN).kv_rpm_per_v = 3.0
