"""Every conversion factor, and the units a person reads.

Multiply by a factor to get SI, divide to come back. All are exact by definition. They are written
out because importing ``scipy.constants`` would double the start-up time; a test compares each
with it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import pi, sqrt
from typing import Any, Final, NamedTuple

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

POUND_FORCE_FOOT: Final = POUND * GRAVITY * FOOT

AMPERE_HOUR: Final = HOUR
WATT_HOUR: Final = HOUR

PEAK_PER_RMS: Final = sqrt(2.0)
"""Peak amperes per rms ampere of a sine."""


class Swap(NamedTuple):
    """A unit read in place of the job file's: ``value * factor + offset``."""

    name: str
    factor: float
    offset: float = 0.0


SWAPS: Final[dict[str, tuple[str, dict[str, Swap]]]] = {
    "mph": (
        "km/h",
        {
            "km/h": Swap("mph", KMH / MPH),
            "km": Swap("mi", KILOMETRE / MILE),
            "Wh/km": Swap("Wh/mi", MILE / KILOMETRE),
        },
    ),
    "lbf·ft": (
        "N·m",
        {
            "N·m": Swap("lbf·ft", 1 / POUND_FORCE_FOOT),
            "N·m per rad/s": Swap("lbf·ft per rad/s", 1 / POUND_FORCE_FOOT),
        },
    ),
    "°F": ("°C", {"°C": Swap("°F", 1.8, 32.0)}),
    "lb": ("kg", {"kg": Swap("lb", 1 / POUND)}),
}
"""What a person may choose: the job file's unit it stands for, and every unit that goes with it."""


def swap_of(unit: str) -> tuple[str, Swap] | None:
    """The choice that swaps a unit of the job file, and what for; None where nothing does."""
    return next(((name, some[unit]) for name, (_, some) in SWAPS.items() if unit in some), None)


@dataclass(frozen=True)
class Units:
    """The units a person reads: those of the job file, but for what is chosen instead.

    Attributes:
        chosen: Any of ``SWAPS``.
    """

    chosen: frozenset[str] = frozenset()

    @classmethod
    def of(cls, names: Iterable[object]) -> Units:
        """From names of units; those that nothing is swapped for are left out."""
        return cls(frozenset(name for name in SWAPS if name in tuple(names)))

    def _swap(self, unit: str) -> Swap:
        found = (SWAPS[name][1].get(unit) for name in self.chosen)
        return next((swap for swap in found if swap), Swap(unit, 1.0))

    def name(self, unit: str) -> str:
        """What a unit of the job file is read in.

        Args:
            unit: As fields have it: ``km/h``, ``km``, ``Wh/km``, ``N·m``, ``°C``, ``kg``; any
                other is read as it is.
        """
        return self._swap(unit).name

    def shown(self, value: Any, unit: str) -> Any:
        """A number or array as it is read.

        Args:
            value: In ``unit``.
            unit: As fields have it.
        """
        swap = self._swap(unit)
        return value * swap.factor + swap.offset if swap.name != unit else value

    def written(self, value: Any, unit: str, significant: int = 6) -> Any:
        """What stands in a field, as it is read; what is not converted stays as it is.

        Args:
            value: In ``unit``; a number, None, or a list of those, however deep.
            unit: As fields have it.
            significant: Digits of converted numbers.
        """
        if isinstance(value, list | tuple):
            return [self.written(item, unit, significant) for item in value]
        if value is None or self.name(unit) == unit:
            return value
        return float(f"{self.shown(value, unit):.{significant}g}")

    def change(self, value: Any, unit: str) -> Any:
        """A difference of two values as it is read.

        Args:
            value: In ``unit``.
            unit: As fields have it.
        """
        return value * self._swap(unit).factor

    def typed(self, value: Any, unit: str) -> Any:
        """What was typed, back in the unit of the job file.

        Args:
            value: As it is read.
            unit: As fields have it.
        """
        swap = self._swap(unit)
        return (value - swap.offset) / swap.factor if swap.name != unit else value

    def speed(self, metres_per_second: Any) -> Any:
        """A road speed as it is read.

        Args:
            metres_per_second: m/s.
        """
        return self.shown(metres_per_second / KMH, "km/h")


AS_WRITTEN: Final = Units()
"""The units of the job file."""
