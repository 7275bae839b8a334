"""Names beside the ends of lines: near their end, off every line and off each other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

LANE = 16.0
"""Height of a name, px."""
CLEAR = 10.0
"""Between the middle of a name and a line, px."""
STEP = 4.0
"""Between the heights tried, px."""
EDGE = 7.0
"""Between the middle of a name and the panel's edge, px."""


class End(NamedTuple):
    """The end of a line, px from the panel's left edge and foot, and the width of its name, px."""

    x: float
    y: float
    width: float


class Spot(NamedTuple):
    """Where a name goes: px above the panel's foot, and whether to the right of its end."""

    up: float
    right: bool


def place(
    ends: Sequence[End], drawn: Sequence[tuple[Any, Any]], across: float, height: float
) -> list[Spot]:
    """A spot for every name, in the order of the ends.

    Names never run into each other while there is height for them; where every height has a line,
    a name stands on one.

    Args:
        ends: Of the lines.
        drawn: The lines themselves, px as in ``End``: what names keep off.
        across: Width that names may use, px.
        height: Of the panel, px.
    """
    found: dict[int, Spot] = {}
    taken: list[tuple[float, float, float]] = []
    for k in sorted(range(len(ends)), key=lambda k: (ends[k].y, k)):
        end = ends[k]
        right = end.x + end.width <= across
        left = end.x if right else end.x - end.width
        tried = _heights(end.y, height)
        apart = [up for up in tried if _off_names(left, end.width, up, taken)] or tried
        clear = [up for up in apart if _off_lines(left, end.width, up, drawn)]
        up = (clear or apart)[0]
        found[k] = Spot(up, right)
        taken.append((left, left + end.width, up))
    return [found[k] for k in range(len(ends))]


def _heights(wanted: float, height: float) -> list[float]:
    """Heights in the panel, the nearest to the one wanted first."""
    start = min(max(wanted, EDGE), height - EDGE)
    steps = np.arange(0.0, height, STEP)
    all_ = [start, *(start + s for s in steps[1:]), *(start - s for s in steps[1:])]
    inside = [up for up in all_ if EDGE <= up <= height - EDGE] or [start]
    return sorted(inside, key=lambda up: (abs(up - start), -up))


def _off_names(
    left: float, width: float, up: float, taken: Sequence[tuple[float, float, float]]
) -> bool:
    return not any(
        a < left + width and left < b and abs(other - up) < LANE for a, b, other in taken
    )


def _off_lines(left: float, width: float, up: float, drawn: Sequence[tuple[Any, Any]]) -> bool:
    """Whether no line passes through the name; its own ends at one side of it."""
    for x, y in drawn:
        inside = (x > left + 2) & (x < left + width - 2)
        if np.any(np.abs(y[inside] - up) < CLEAR):
            return False
    return True
