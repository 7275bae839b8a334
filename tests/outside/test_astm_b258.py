"""Copper wire by gauge.

Source: ASTM B258, d = 0.127 x 92^((36 - n)/39) mm; ohm per 1000 ft at 20 °C: AWG 4 .2485, 8 .6282,
10 .9989, 12 1.588, 14 2.525 (IEC 60028 copper, 1/58 ohm mm2/m). Tolerance: half a unit of the last
printed digit.
"""

import pytest

from curves.parts.wire import wire_diameter, wire_resistance
from curves.units import FOOT


@pytest.mark.parametrize(
    ("gauge", "ohm", "digit"),
    [
        (4, 0.2485, 1e-4),
        (8, 0.6282, 1e-4),
        (10, 0.9989, 1e-4),
        (12, 1.588, 1e-3),
        (14, 2.525, 1e-3),
    ],
)
def test_ohm_per_thousand_feet(gauge, ohm, digit):
    assert float(wire_resistance(gauge, 1000 * FOOT)) == pytest.approx(ohm, abs=digit / 2)


def test_ends_of_the_series():
    # The two gauges the series is laid through.
    assert float(wire_diameter(36)) == pytest.approx(0.127e-3, rel=1e-12)
    assert float(wire_diameter(-3)) == pytest.approx(0.127e-3 * 92, rel=1e-12)


def test_warm_wire():
    warm = float(wire_resistance(10, 1.0, 80.0) / wire_resistance(10, 1.0))
    assert warm == pytest.approx(1.2358, abs=5e-5)
