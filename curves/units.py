"""Every conversion factor: multiply by it to get SI, divide to come back.

All are exact by definition. They are written out because importing ``scipy.constants`` would
double the start-up time; a test compares each with it.
"""

from __future__ import annotations

from math import pi, sqrt
from typing import Final

MILLI: Final = 1e-3
MICRO: Final = 1e-6
PERCENT: Final = 1e-2

MINUTE: Final = 60.0
HOUR: Final = 3600.0

FOOT: Final = 0.3048
INCH: Final = 0.0254
MILE: Final = 1609.344
KILOMETRE: Final = 1000.0
MILLIMETRE: Final = 1e-3

KMH: Final = KILOMETRE / HOUR
MPH: Final = MILE / HOUR
RPM: Final = 2 * pi / MINUTE

POUND: Final = 0.45359237

ZERO_CELSIUS: Final = 273.15
GRAVITY: Final = 9.80665

AMPERE_HOUR: Final = HOUR
WATT_HOUR: Final = HOUR

PEAK_PER_RMS: Final = sqrt(2.0)
"""Peak amperes per rms ampere of a sine."""
