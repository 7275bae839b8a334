"""Speeds and distances as people type them: “20 mph”, “660 ft”."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from curves.units import FOOT
from dashboard.base.words import speed_factor

ROUND = 1e-6
"""A number this close to a whole one is meant to be it."""
SPEEDS = {"km/h": 1.0, "mph": 1 / speed_factor("mph")}
DISTANCES = {"": 1.0, "ft": 1.0, "m": 1 / FOOT}
"""km/h and ft in a unit."""
MOST_KMH, MOST_FT = 300.0, 5280.0
SPEED_RIGHT = f"20 mph or 25 km/h, above 0, to {MOST_KMH:.0f} km/h"
DISTANCE_RIGHT = f"660 ft or 100 m, above 0, to {MOST_FT:,.0f} ft"
TYPED = re.compile(r"\s*([0-9]+(?:[.,][0-9]*)?)\s*(m|ft|mph|km/h)?\s*")


def speed_said(kmh: float) -> str:
    """A speed in the unit in which it is round."""
    return _said(kmh, "km/h", kmh * speed_factor("mph"), "mph")


def distance_said(feet: float) -> str:
    """A distance in the unit in which it is round."""
    return _said(feet, "ft", feet * FOOT, "m")


def distance(text: str) -> float | None:
    """A typed distance, ft; None where it is none."""
    return typed(text, (), distance_said, DISTANCES, MOST_FT)


def _said(value: float, unit: str, other: float, other_unit: str) -> str:
    if abs(other - round(other)) < ROUND < abs(value - round(value)):
        return f"{other:.0f} {other_unit}"
    return f"{value:.4g} {unit}"


def all_typed(
    texts: Sequence[Any] | None,
    before: Sequence[float],
    said: Callable[[float], str],
    units: Mapping[str, float],
    most: float,
    count: int,
) -> tuple[tuple[float, ...], list[str]]:
    """Typed numbers in order, and the texts that are none.

    Args:
        texts: As typed.
        before: The values at hand.
        said: How a value is written.
        units: As of ``typed``.
        most: The largest a number may be.
        count: How many are taken.
    """
    read = {
        text: typed(text, before, said, units, most)
        for text in map(str, texts if isinstance(texts, list) else ())
    }
    values = sorted({value for value in read.values() if value is not None})
    return tuple(values)[:count], [text for text, value in read.items() if value is None]


def typed(
    text: str,
    before: Sequence[float],
    said: Callable[[float], str],
    units: Mapping[str, float],
    most: float,
) -> float | None:
    """A typed number; one that stands for a value at hand keeps its every digit. None for none.

    Args:
        text: As typed, with a unit or without.
        before: The values at hand.
        said: How a value is written.
        units: What a number is multiplied by, by the unit behind it; "" for none.
        most: The largest it may be.
    """
    known = next((x for x in before if said(x) == text), None)
    parts = TYPED.fullmatch(text)
    factor = None if parts is None else units.get(parts[2] or "")
    if known is None and parts is not None and factor is not None:
        known = float(parts[1].replace(",", ".")) * factor
    return known if known is not None and 0 < known <= most else None
