"""How many values a line, a table or a sweep has, whatever numbers its ends are."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

ROUND = (1, 2, 5, 10)


def round_step(length: float, most: float) -> float:
    """The least of 1, 2, 5 times a power of ten that goes into a length at most so often.

    Args:
        length: above 0 and finite; else 1 is given.
        most: how many steps, 1 or more.
    """
    if not (math.isfinite(length) and length > 0):
        return 1.0
    rough = length / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(s * power for s in ROUND if s * power >= rough * (1 - 1e-9))


def evenly(first: float, last: float, step: float, most: int) -> NDArray[np.float64]:
    """Values from first to last in even steps, the last where a step ends there.

    Args:
        first: the first value.
        last: where they end; no value at all where it is below the first or no number.
        step: above 0; a longer, round one is taken where there would be more than ``most``.
        most: steps at most.

    Returns:
        Shape (n,), n at most ``most + 1``.
    """
    length = last - first
    if not (math.isfinite(length) and length >= 0):
        return np.empty(0)
    if length / step > most:
        step = round_step(length, most)
    return np.asarray(first + step * np.arange(math.floor(length / step + 1e-9) + 1))


def whole(first: int, last: int, most: int) -> list[int]:
    """Whole numbers from first to last, both among them, evenly thinned to at most so many.

    Args:
        first: the first.
        last: the last, not below the first.
        most: 2 or more.
    """
    count = min(last - first + 1, most)
    return [int(x) for x in np.round(np.linspace(first, last, count))]
