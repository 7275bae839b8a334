"""A measured run against its prediction in a sentence or two."""

from __future__ import annotations

import numpy as np

from curves.measured.overlay import Overlay, Split
from curves.units import FOOT, KMH, MPH
from curves.words.digits import banded, digits

SURE = 2.0
"""Standard uncertainties of the log past which a difference is more than its noise."""


def split_name(split: Split, *, mph: bool = False) -> str:
    """What a split is called: ``0 to 20 mph``, ``660 ft``.

    Args:
        split: the split.
        mph: whether speeds are told in mph.
    """
    if split.kind == "speed":
        return (
            f"0 to {split.target / MPH:.0f} mph" if mph else f"0 to {split.target / KMH:.0f} km/h"
        )
    return f"{split.target / FOOT:.0f} ft"


def farthest(one: Overlay) -> Split | None:
    """The split that says most of a run: the longest distance, else the highest speed, it came to.

    Args:
        one: the run.
    """
    told = [s for s in one.splits if np.isfinite(s.measured) and np.isfinite(s.predicted)]
    for kind in ("distance", "speed"):
        if some := [s for s in told if s.kind == kind]:
            return max(some, key=lambda s: s.target)
    return None


def verdict(one: Overlay, *, mph: bool = False, by: str = "the job") -> str:
    """How far off the prediction is at the split that says most.

    Args:
        one: the run.
        mph: whether speeds are told in mph.
        by: who predicts.
    """
    split = farthest(one)
    if split is None:
        return "The run came to no distance or speed that is timed."
    off, unsure = split.difference, SURE * split.uncertainty
    took = f"{split_name(split, mph=mph)} took {banded(split.measured, unsure)} s"
    if not abs(off) > unsure:
        return f"{took}; {by} predicts {digits(split.predicted, 4)} s, no more off than the log is."
    which = "too quick" if off > 0 else "too slow"
    return f"{took}; {by} predicts {digits(split.predicted, 4)} s, {abs(off):.2g} s {which}."
