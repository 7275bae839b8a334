"""What to measure next."""

from __future__ import annotations

from curves.parts.labels import possessive
from curves.studies.sensitivity import Sensitivity
from curves.units import AS_WRITTEN, PERCENT, Units
from curves.words.digits import digits, is_even


def measure_next(found: Sensitivity, *, units: Units = AS_WRITTEN) -> str | None:
    """The input that leaves top speed the most open, in one sentence; None where none matters.

    Args:
        found: The setup's ``sensitivity``.
        units: For the sentence.
    """
    if found.measure_next is None:
        return None
    first, unit = found.influences[0], units.name("km/h")
    low, high = sorted((first.less_kmh, first.more_kmh))
    if is_even(0.0, low, high):
        does = f"moves this top speed by ± {digits(units.change(abs(first.kmh), 'km/h'), 2)} {unit}"
    else:
        ends = [units.change(found.top_kmh + x, "km/h") for x in (low, high)]
        least = digits(ends[0], 2) if ends[0] > 0 else "“cannot start”"
        does = f"takes this top speed from {least} to {digits(ends[1], 2)} {unit}"
    share = digits(first.share / PERCENT, 2)
    return f"Measure {possessive(first.input)} next: its ± {share} % alone {does}."
