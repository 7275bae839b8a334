"""Air density. ISO 2533:1975, standard atmosphere; figures from memory, as printed there."""

import pytest

from curves.parts.conditions import air_density


@pytest.mark.parametrize(
    ("height", "printed"), [(0, 1.22500), (1000, 1.11164), (2000, 1.00649), (3000, 0.90912)]
)
def test_standard_atmosphere(height, printed):
    # Geopotential altitude; the standard's own temperature there is 15 °C less 6.5 K/km.
    # Half a unit of the last printed digit.
    assert air_density(height, 15 - 0.0065 * height) == pytest.approx(printed, abs=5.1e-6)


@pytest.mark.parametrize(("celsius", "printed"), [(0, 1.29227), (20, 1.20411), (35, 1.14549)])
def test_dry_air_at_sea_level(celsius, printed):
    assert air_density(0, celsius) == pytest.approx(printed, abs=5.1e-6)
