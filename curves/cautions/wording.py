"""How cautions write their numbers: units, speeds, and where a rating came from."""

from __future__ import annotations

import math

from curves.parts.base import Table
from curves.units import Units


def number(value: float, significant: int = 3) -> str:
    """A computed number for a sentence: 21.3, 1,040, 8,750."""
    if not math.isfinite(value):
        return "none"
    if value == 0:
        return "0"
    places = significant - 1 - math.floor(math.log10(abs(value)))
    return _trimmed(f"{round(value, places):,.{max(places, 0)}f}")


def given(value: float) -> str:
    """A number from the job, as it was given."""
    return _trimmed(f"{value:z,.3f}")


def volts(value: float) -> str:
    """Volts with their unit, to a tenth."""
    return f"{_trimmed(f'{value:z,.1f}')} V"


def _trimmed(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text


def speed(metres_per_second: float, units: Units) -> str:
    """A road speed with its unit, whole."""
    return f"{round(units.speed(metres_per_second)):d} {units.name('km/h')}"


def celsius(value: float, units: Units) -> str:
    """A temperature in °C as it is read, with its unit."""
    return f"{given(units.shown(value, '°C'))} {units.name('°C')}"


def rated(kind: str, table: Table, field: str) -> str:
    """Where a rating in the job came from."""
    said = table.source_of(field)
    return f"[{kind}] {field} in the job" + (f" ({said})" if said else "")
