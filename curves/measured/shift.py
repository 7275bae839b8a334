"""What a pass through the readings moves, and how readings become arrays in SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, TypeAlias

import numpy as np

from curves.measured.estimate import Estimate
from curves.measured.readings import Bench
from curves.numerics.roots import Array

Found: TypeAlias = dict[str, Estimate]
MAGNETS_PER_K: Final = -0.0011
"""Used where the bench file gives no magnet_coefficient_per_k, as the motor's default."""


@dataclass(frozen=True)
class Shift:
    """Standard uncertainties by which instruments or values are moved for a second look.

    Attributes:
        gain: What an instrument's readings are multiplied by, by its field in ``Meters``.
        warmer: Added to every temperature, K.
        value: Added to a value found earlier on the way, by its name.
    """

    gain: Mapping[str, float] = field(default_factory=dict)
    warmer: float = 0.0
    value: Mapping[str, float] = field(default_factory=dict)

    def of(self, instrument: str) -> float:
        """Factor on an instrument's readings."""
        return self.gain.get(instrument, 1.0)


def rotor_rpm(bench: Bench, rows: list[tuple[float | None, float | None]], shift: Shift) -> Array:
    """Rotor speeds, rpm, from (rotor, wheel) readings of which one is given."""
    gear = bench.gear_ratio
    values = [rotor if rotor is not None else (wheel or 0.0) * gear for rotor, wheel in rows]
    return np.array(values, dtype=np.float64) * shift.of("rpm_percent")


def celsius(bench: Bench, values: list[float | None], shift: Shift) -> Array:
    """Temperatures, °C; the file's ambient where none was read."""
    given = [bench.ambient_c if value is None else value for value in values]
    return np.array(given, dtype=np.float64) + shift.warmer


def alpha(bench: Bench) -> float:
    """Change of the magnets' flux per kelvin."""
    return bench.not_measured.given("magnet_coefficient_per_k", MAGNETS_PER_K)


def pole_count(bench: Bench, found: Found) -> int:
    """Pole pairs, counted or from speeds; 0 where neither."""
    if "pole_pairs" in found:
        return int(found["pole_pairs"].value)
    return int(bench.not_measured.given("pole_pairs", 0.0))


def value(bench: Bench, found: Found, name: str) -> float:
    """A value found on the way, or the one the file gives for what was not measured; else 0."""
    return found[name].value if name in found else bench.not_measured.given(name)
