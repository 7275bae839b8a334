"""Temperature laws. IEC 60028 (from memory) for copper; makers' tables for magnets."""

import pytest

from curves.parts.motor import copper_resistance, flux_linkage


@pytest.mark.parametrize(("celsius", "factor"), [(20, 1.0), (80, 1.2358), (120, 1.393)])
def test_copper(celsius, factor):
    assert copper_resistance(1.0, celsius) == pytest.approx(factor, abs=1e-12)


def test_hot_neodymium():
    # At −0.12 %/K from 20 to 100 °C: flux ×0.904, so Kv ×1.106 (printed to three decimals).
    cold, hot = flux_linkage(100, 23, 20, -0.0012), flux_linkage(100, 23, 100, -0.0012)
    assert hot / cold == pytest.approx(0.904, rel=1e-12)
    assert cold / hot == pytest.approx(1.106, abs=5e-4)


def test_flux_of_a_known_motor():
    # Kv 100, 23 pole pairs, λ 2.39708 mWb; from √3 ω λ, Purdue ECE 321 laboratory 10.
    assert flux_linkage(100, 23) == pytest.approx(2.39708e-3, abs=5e-9)
