"""Bench readings to the numbers of a motor: pure functions on arrays, no files.

Each reading goes through the law of ``curves.parts.motor`` backwards. What repeated readings
scatter by gives one part of a value's uncertainty; what an instrument has wrong in all of its
readings gives the other, found by moving that instrument by its standard uncertainty and doing
everything again (JCGM 100:2008, section 5.1.3).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from curves.measured.at_rest import inductance, pack, pole_pairs, resistance, roll_out
from curves.measured.readings import Bench
from curves.measured.shift import Found, Shift
from curves.measured.spinning import back_emf, no_load, stated
from curves.units import PERCENT


@dataclass(frozen=True)
class Derived:
    """What the readings give.

    Attributes:
        values: By the name of a profile's field, or ``pack_resistance_ohm``, ``circumference_m``,
            ``max_modulation``.
        warnings: What a careful person would look at again.
    """

    values: Found
    warnings: tuple[str, ...]


def derive(bench: Bench) -> Derived:
    """Everything the readings give, with uncertainties.

    Args:
        bench: the readings.
    """
    warnings: list[str] = []
    plain = _through(bench, Shift(), warnings)
    values: Found = {}
    looks = list(_moved(bench, plain))
    for name, found in plain.items():
        parts = [
            moved[name].value - found.value
            for own, moved in looks
            if own != name and name in moved and np.isfinite(moved[name].value)
        ]
        values[name] = found.with_also(*parts)
    return Derived(values, tuple(warnings))


def _moved(bench: Bench, plain: Found) -> Iterator[tuple[str, Found]]:
    """Everything again with each instrument off, and each value found on the way (by its name)."""
    meters = bench.meters
    for instrument in type(meters).model_fields:
        by = getattr(meters, instrument)
        if by > 0 and instrument.endswith("_percent"):
            yield instrument, _through(bench, Shift(gain={instrument: 1 + PERCENT * by}), [])
    if meters.temperature_k > 0:
        yield "temperature_k", _through(bench, Shift(warmer=meters.temperature_k), [])
    for name, found in plain.items():
        if np.isfinite(found.uncertainty) and found.uncertainty > 0:
            yield name, _through(bench, Shift(value={name: found.uncertainty}), [])


def _through(bench: Bench, shift: Shift, warnings: list[str]) -> Found:
    """One pass through all readings, each step using what the steps before it found."""
    found: Found = {}
    steps: tuple[Callable[[Bench, Shift, Found, list[str]], Found], ...] = (
        roll_out,
        pole_pairs,
        resistance,
        inductance,
        back_emf,
        no_load,
        stated,
        pack,
    )
    for step in steps:
        for name, estimate in step(bench, shift, found, warnings).items():
            moved = estimate.value + shift.value.get(name, 0.0)
            found[name] = replace(estimate, value=moved)
    return found
