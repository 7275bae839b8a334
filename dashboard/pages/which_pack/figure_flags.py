"""Names at the ends of lines: flags that do not run into each other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

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
    foot, wide, count = np.asarray(feet, dtype=float), np.asarray(widths, dtype=float), len(feet)
    right = foot + GAP + wide <= across
    low = np.where(right, foot, foot - GAP - wide)
    high = np.where(right, foot + GAP + wide, foot)
    lanes = np.zeros(count, dtype=np.intp)
    # Those that fly left reach over the feet of others, and go above them.
    order = np.lexsort((np.arange(count), -foot, ~right))
    for turn, at in enumerate(order):
        known = order[:turn]
        lane = lanes[known]
        beside = (low[at] < high[known] + GAP) & (low[known] < high[at] + GAP)
        taken = np.bincount(lane[beside], minlength=count) > 0
        # Staffs behind this name come from lanes above it, names over this staff lie below.
        staffs = lane[(low[at] < foot[known]) & (foot[known] < high[at])]
        names = lane[(low[known] < foot[at]) & (foot[at] < high[known])]
        behind = np.cumsum(np.bincount(staffs, minlength=count)[::-1])[::-1]
        over = np.cumsum(np.bincount(names, minlength=count))
        lanes[at] = np.argmin(np.where(taken, count * count, behind + over))
    return [Flag(int(n), bool(r)) for n, r in zip(lanes, right, strict=True)]
