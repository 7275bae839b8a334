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
TYPED = re.compile(r"\s*([0-9]+(?:[.,][0-9]*)?)\s*(m|ft|mph|km/h)?\s*")


def speed_said(kmh: float) -> str:
    """A speed in the unit in which it is round."""
    return _said(kmh, "km/h", kmh * speed_factor("mph"), "mph")


def distance_said(feet: float) -> str:
    """A distance in the unit in which it is round."""
    return _said(feet, "ft", feet * FOOT, "m")


def distance(text: str) -> float | None:
    """A typed distance, ft; None where it is none."""
    return next(iter(typed([text], (), distance_said, DISTANCES)), None)


def _said(value: float, unit: str, other: float, other_unit: str) -> str:
    if abs(other - round(other)) < ROUND < abs(value - round(value)):
        return f"{other:.0f} {other_unit}"
    return f"{value:.4g} {unit}"


def typed(
    texts: Any, before: Sequence[float], said: Callable[[float], str], units: Mapping[str, float]
) -> tuple[float, ...]:
    """Typed numbers, in order; one that stands for a value at hand keeps its every digit.

    Args:
        texts: As typed, with a unit or without.
        before: The values at hand.
        said: How a value is written.
        units: What a number is multiplied by, by the unit behind it; "" for none.
    """
    found = []
    for text in map(str, texts if isinstance(texts, list) else ()):
        known = next((x for x in before if said(x) == text), None)
        parts = TYPED.fullmatch(text)
        factor = None if parts is None else units.get(parts[2] or "")
        if known is None and parts is not None and factor is not None:
            known = float(parts[1].replace(",", ".")) * factor
        if known is not None and 0 < known < 10_000:
            found.append(known)
    return tuple(sorted(set(found)))
