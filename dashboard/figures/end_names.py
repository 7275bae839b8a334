"""Names beside the ends of lines: near their end, off lines if that is near too, off each other.

Names of lines that end together stand in the order of their lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

Array = np.ndarray[Any, Any]

LANE = 16.0
"""Height of a name, px."""
CLEAR = 10.0
"""Between the middle of a name and a line, px."""
STEP = 4.0
"""Between the heights tried, px."""
EDGE = 7.0
"""Between the middle of a name and the panel's edge, px."""
ON_LINE, ON_NAME = 100.0, 1e7
"""What it costs to stand on a line and on a name, in px away from the end.

A name on a line can be read; one as far off as half a panel belongs to nothing.
"""


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

    Names never run into each other while there is height for them. Where every height within
    ``ON_LINE`` of its end has a line, a name stands on one. Ends of one place along the axis are
    named together, those of the lowest first or of another place where that costs less.

    Args:
        ends: Of the lines.
        drawn: The lines themselves, px as in ``End``: what names keep off.
        across: Width that names may use, px.
        height: Of the panel, px.
    """
    groups = _together(ends)
    best, least = _in_turn(groups, ends, drawn, across, height)
    for first in groups[1:]:
        turns = [first, *(group for group in groups if group is not first)]
        found, cost = _in_turn(turns, ends, drawn, across, height)
        if cost < least:
            best, least = found, cost
    return [best[k] for k in range(len(ends))]


def _in_turn(
    groups: Sequence[Sequence[int]],
    ends: Sequence[End],
    drawn: Sequence[tuple[Any, Any]],
    across: float,
    height: float,
) -> tuple[dict[int, Spot], float]:
    """Spots by end where each group keeps off those before it, and what they cost."""
    found: dict[int, Spot] = {}
    taken: list[tuple[float, float, float]] = []
    total = 0.0
    for group in groups:
        right = max(ends[k].x + ends[k].width for k in group) <= across
        lefts = [ends[k].x - (0 if right else ends[k].width) for k in group]
        heights = _heights(min(ends[k].y for k in group), height)
        costs = [
            abs(heights - np.clip(ends[k].y, EDGE, height - EDGE))
            + ON_LINE * _on_lines(left, ends[k].width, heights, drawn)
            + ON_NAME * _on_names(left, ends[k].width, heights, taken)
            for k, left in zip(group, lefts, strict=True)
        ]
        ups = _rising(costs, heights)
        for k, left, up, cost in zip(group, lefts, ups, costs, strict=True):
            found[k] = Spot(up, right)
            taken.append((left, left + ends[k].width, up))
            total += float(cost[np.flatnonzero(heights == up)[0]])
    return found, total


def _together(ends: Sequence[End]) -> list[list[int]]:
    """Ends at one place along the axis, from the lowest up; the group with the lowest first.

    Of ends at one height the first is the uppermost.
    """
    groups: dict[int, list[int]] = {}
    for k in sorted(range(len(ends)), key=lambda k: (round(ends[k].y), -k)):
        groups.setdefault(round(ends[k].x), []).append(k)
    return list(groups.values())


def _heights(through: float, height: float) -> Array:
    """Heights in the panel from the lowest up, one of them the one asked for."""
    start = min(max(through, EDGE), height - EDGE)
    first = EDGE + (start - EDGE) % STEP
    return np.arange(first, max(height - EDGE, first) + 1e-9, STEP)


def _rising(costs: Sequence[Array], heights: Array) -> list[float]:
    """A height for each name, a lane or as much as there is above the one before, at least cost."""
    apart = min(LANE, (heights[-1] - heights[0]) / max(len(costs) - 1, 1)) // STEP
    every = np.arange(heights.size)
    below = every - int(apart)
    total, bests = costs[0], []
    for cost in costs[1:]:
        # The best height for the name before, up to each height; of two as good the upper.
        least = np.minimum.accumulate(total)
        best = np.maximum.accumulate(np.where(total <= least, every, 0))
        bests.append(best[np.maximum(below, 0)])
        total = cost + np.where(below < 0, np.inf, least[np.maximum(below, 0)])
    at = int(np.flatnonzero(total <= total.min())[-1])
    found = [at]
    for best in reversed(bests):
        at = int(best[at])
        found.append(at)
    return [float(heights[k]) for k in reversed(found)]


def _on_names(
    left: float, width: float, heights: Array, taken: Sequence[tuple[float, float, float]]
) -> Array:
    """How many names one would run into, by height."""
    beside = [up for a, b, up in taken if a < left + width and left < b]
    near: Array = np.sum(abs(heights[:, None] - np.array(beside)) < LANE, axis=1)
    return near


def _on_lines(left: float, width: float, heights: Array, drawn: Sequence[tuple[Any, Any]]) -> Array:
    """Whether a line passes through a name, by height; its own ends at one side of it."""
    passed = np.zeros(heights.shape, dtype=bool)
    for x, y in drawn:
        inside = y[(x > left + 2) & (x < left + width - 2)]
        passed |= np.any(abs(heights[:, None] - inside) < CLEAR, axis=1)
    return passed
