"""Copper's resistance over temperature, and a winding's temperature from two readings.

Source: IEC 60028, 0.00393 per kelvin above 20 °C (from memory): 20 to 120 °C x 1.393, to 80 °C
x 1.2358.
"""

import pytest

from curves.parts.heating import winding_temperature


@pytest.mark.parametrize(("celsius", "factor"), [(120.0, 1.393), (80.0, 1.2358), (20.0, 1.0)])
def test_temperature_from_readings(celsius, factor):
    assert float(winding_temperature(0.2, 20.0, 0.2 * factor)) == pytest.approx(celsius, abs=1e-9)


def test_cold_reading_at_another_temperature():
    # 0.2 ohm at 20 °C reads 0.2 x 1.0393 at 30 °C; the hot winding is the same one.
    warm = float(winding_temperature(0.2 * (1 + 0.00393 * 10), 30.0, 0.2 * 1.393))
    assert warm == pytest.approx(120.0, abs=1e-9)
