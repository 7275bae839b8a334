"""Names at the ends of lines: flags that do not run into each other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

LANE = 17.0
"""Height of a lane of text, px."""
FOOT = 11.0
"""Middle of the lowest lane above the foot of its flag, px."""
GAP = 6.0


class Flag(NamedTuple):
    """Where a name goes.

    Attributes:
        lane: Rows of text above the lowest.
        right: Whether it flies to the right of its staff, or to the left.
    """

    lane: int
    right: bool


def place(feet: Sequence[float], widths: Sequence[float], across: float) -> list[Flag]:
    """Lanes for the names of lines that end at given places.

    Args:
        feet: Where each line ends, px from the left edge of the plot.
        widths: Width of each name, px.
        across: Width of the plot, px.

    Returns:
        One flag a line, in their order. No two names overlap; a staff runs behind another's name
        only where no lane avoids it.
    """
    rights = [foot + GAP + width <= across for foot, width in zip(feet, widths, strict=True)]
    boxes = [
        (foot, foot + GAP + width) if right else (foot - GAP - width, foot)
        for foot, width, right in zip(feet, widths, rights, strict=True)
    ]
    lanes: dict[int, int] = {}
    # Those that fly left reach over the feet of others, and go above them.
    for at in sorted(range(len(feet)), key=lambda k: (not rights[k], -feet[k], k)):
        free = [n for n in range(len(feet)) if not _overlaps(at, n, boxes, lanes)]
        lanes[at] = min(free, key=lambda n: (_crossings(at, n, feet, boxes, lanes), n))
    return [Flag(lanes[k], rights[k]) for k in range(len(feet))]


def _overlaps(
    at: int, lane: int, boxes: Sequence[tuple[float, float]], lanes: dict[int, int]
) -> bool:
    mine = boxes[at]
    return any(
        taken == lane and mine[0] < boxes[k][1] + GAP and boxes[k][0] < mine[1] + GAP
        for k, taken in lanes.items()
    )


def _crossings(
    at: int,
    lane: int,
    feet: Sequence[float],
    boxes: Sequence[tuple[float, float]],
    lanes: dict[int, int],
) -> int:
    """Staffs behind this name, and names over this staff."""
    behind = sum(lane <= n and boxes[at][0] < feet[k] < boxes[at][1] for k, n in lanes.items())
    over = sum(n <= lane and boxes[k][0] < feet[at] < boxes[k][1] for k, n in lanes.items())
    return behind + over
