"""Factors against scipy.constants, which takes them from the same definitions."""

import math

import pytest
from scipy import constants

from curves import units
from curves.units import AS_WRITTEN, SWAPS, Units


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (units.MILLI, constants.milli),
        (units.MICRO, constants.micro),
        (units.MINUTE, constants.minute),
        (units.HOUR, constants.hour),
        (units.FOOT, constants.foot),
        (units.INCH, constants.inch),
        (units.MILE, constants.mile),
        (units.KILOMETRE, constants.kilo),
        (units.MILLIMETRE, constants.milli),
        (units.KMH, constants.kmh),
        (units.MPH, constants.mph),
        (units.POUND, constants.pound),
        (units.ZERO_CELSIUS, constants.zero_Celsius),
        (units.GRAVITY, constants.g),
        (units.AMPERE_HOUR, constants.hour),
        (units.WATT_HOUR, constants.hour),
        (units.RPM, 2 * math.pi / constants.minute),
        (units.PEAK_PER_RMS, math.sqrt(2)),
        (units.PERCENT, 0.01),
        (units.POUND_FORCE_FOOT, constants.lbf * constants.foot),
    ],
)
def test_factor_is_scipys(ours, theirs):
    # One unit in the last place: the two may divide in another order.
    assert ours == pytest.approx(theirs, rel=2.3e-16)


def test_every_factor_is_compared():
    factors = {
        name for name, value in vars(units).items() if name.isupper() and isinstance(value, float)
    }
    marked = test_factor_is_scipys.pytestmark[0].args[1]
    assert len(factors) == len(marked)


@pytest.mark.parametrize(
    ("unit", "value", "chosen", "shown"),
    [
        # From memory: 0 and 100 °C are 32 and 212 °F, -40 is the same on both.
        ("°C", 100.0, "°F", 212.0),
        ("°C", -40.0, "°F", -40.0),
        # By definition: a mile is 1.609344 km, a pound 0.45359237 kg.
        ("km/h", 1.609344, "mph", 1.0),
        ("km", 1.609344, "mph", 1.0),
        ("Wh/km", 1.0, "mph", 1.609344),
        ("kg", 0.45359237, "lb", 1.0),
        # From memory: a foot of lever under a pound of force is 1.3558 N·m.
        ("N·m", 1.3558, "lbf·ft", pytest.approx(1.0, abs=5e-5)),
    ],
)
def test_units_read(unit, value, chosen, shown):
    read = Units.of([chosen])
    assert read.shown(value, unit) == pytest.approx(shown)
    assert read.typed(read.shown(value, unit), unit) == pytest.approx(value)
    assert read.change(value, unit) == pytest.approx(read.shown(value, unit) - read.shown(0, unit))
    assert AS_WRITTEN.shown(value, unit) is value


def test_a_unit_stays_where_nothing_else_is_chosen():
    assert Units.of(["°F", "furlong", None]) == Units.of(["°F"])
    assert Units.of(SWAPS).name("W") == "W"
    assert Units.of(["mph"]).name("kg") == "kg"
