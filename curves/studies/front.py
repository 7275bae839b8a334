"""Goals that setups meet or miss, and the front of those that none beats in everything."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.errors import JobError, Problem
from curves.numerics.roots import Array
from curves.studies.results import result

_GOAL = re.compile(r"\s*(\w[\w.]*?)\s*(<=|>=)\s*(\S+)\s*")


@dataclass(frozen=True)
class Goal:
    """A bound that a result must keep.

    Attributes:
        result: Name of the result, with its unit.
        bound: In that unit.
        at_least: Whether the result must be at least the bound, or at most.
    """

    result: str
    bound: float
    at_least: bool

    def __str__(self) -> str:
        return f"{self.result}{'>=' if self.at_least else '<='}{self.bound:g}"

    def missing(self, values: Array) -> Array:
        """How much of the bound is missing, as a share of it; 0 where it is kept.

        Args:
            values: Of the result, any shape; NaN misses it altogether.
        """
        short = self.bound - values if self.at_least else values - self.bound
        share = np.maximum(short, 0.0) / max(abs(self.bound), 1e-9)
        return np.where(np.isnan(values), np.inf, share)


def parse_goal(text: str) -> Goal:
    """A goal as people write it, such as ``top_speed_kmh>=45``.

    Raises:
        JobError: if it is none, or of no known result.
    """
    found = _GOAL.fullmatch(text)
    try:
        bound = float(found[3]) if found else np.nan
    except ValueError:
        bound = np.nan
    if found is None or not np.isfinite(bound):
        said = "must be RESULT>=NUMBER or RESULT<=NUMBER, such as top_speed_kmh>=45"
        raise JobError([Problem("goal", text, said)])
    result(found[1])
    return Goal(found[1], bound, found[2] == ">=")


def front_of(costs: Array) -> NDArray[np.bool_]:
    """Which rows no other row beats: none is as good in everything and better in something.

    Args:
        costs: Less is better, shape (rows, results); a row with a NaN is not on the front.
    """
    keep = np.zeros(costs.shape[0], dtype=np.bool_)
    rows = np.flatnonzero(~np.isnan(costs).any(axis=1))
    # In rising order a row can only be beaten by one before it, or by its equal in the first.
    rows = rows[np.lexsort(costs[rows].T[::-1])]
    while rows.size:
        best = rows[0]
        keep[best] = True
        ahead = costs[rows]
        beaten = (costs[best] <= ahead).all(axis=1) & (costs[best] < ahead).any(axis=1)
        rows = rows[1:][~beaten[1:]]
    return keep
