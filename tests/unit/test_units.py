"""Factors against scipy.constants, which takes them from the same definitions."""

import math

import pytest
from scipy import constants

from curves import units


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
    ],
)
def test_factor_is_scipys(ours, theirs):
    # One unit in the last place: the two may divide in another order.
    assert ours == pytest.approx(theirs, rel=2.3e-16)


def test_every_factor_is_compared():
    factors = {name for name in vars(units) if name.isupper()}
    marked = test_factor_is_scipys.pytestmark[0].args[1]
    assert len(factors) == len(marked)
