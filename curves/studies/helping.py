"""Whether more cells help top speed: the one rule, for every page, command and report."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from curves.numerics.counts import whole
from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed
from curves.steady.starting import starts as can_start
from curves.studies.cells import with_series
from curves.units import KMH

WORTH_KMH: Final = 0.1
"""A cell that adds less top speed than this does not help, km/h."""
MOST_CELLS: Final = 400
"""The largest count that is looked at; no light vehicle comes near it."""
MOST_COUNTS: Final = 61
"""Counts looked at between half and twice a pack's own; it is enough for a smooth line."""


class Line(NamedTuple):
    """Top speed over cells in series, one value a count.

    Attributes:
        series: Cells in series, rising.
        speed: m/s; NaN where the bike cannot start.
        words: What limits there; none where it cannot start.
    """

    series: Array
    speed: Array
    words: Sequence[tuple[str, ...]]


class Helping(NamedTuple):
    """What more cells do for top speed, as places in a line; None for what is not there.

    Attributes:
        stops: The lowest from which on every further cell of the line adds less than
            ``WORTH_KMH``; None where the line still rises at its end.
        bends: The lowest from which on voltage no longer limits, where a cell goes on adding.
        before: What a cell added before the bend, m/s; NaN where it is not known.
        after: What it adds from the bend on, m/s.
    """

    stops: int | None
    bends: int | None
    before: float
    after: float


def own_counts(series: int) -> list[int]:
    """The counts that are looked at around a pack's own: half as many to twice as many.

    Args:
        series: Its cells in series.
    """
    last = min(2 * series, MOST_CELLS)
    return whole(min(max(min(4, series), series // 2), last // 2), last, MOST_COUNTS)


def own_line(rig: Rig, charge: float = 1.0) -> Line:
    """A setup's top speed around its own count, strings and caps as they are.

    Args:
        rig: The setup; its pack must be made of cells.
        charge: State of charge, 0 to 1.
    """
    count = np.array(own_counts(rig.pack.series or 1), dtype=np.float64)
    every = with_series(stack([rig]), count, charge=np.full(count.size, charge))
    top = batch_top_speed(every.batch(), every.names)
    return Line(count, top.speed, top.limited_by)


def helping(line: Line) -> Helping:
    """Where more cells stop helping, or where the line bends and goes on.

    Args:
        line: Top speed over cells in series.
    """
    rise, last = _rise(line), len(line.series) - 1
    helps = np.flatnonzero(rise >= WORTH_KMH * KMH * (1 - 1e-9))
    first = int(helps[-1]) + 1 if helps.size else 0
    stops = first if first < last and can_start(line.speed).any() else None
    bound = [k for k, words in enumerate(line.words) if "voltage" in words]
    at = bound[-1] + 1 if bound else last
    if at >= (last if stops is None else stops) or not can_start(line.speed[at]):
        return Helping(stops, None, np.nan, np.nan)
    # The step that crosses the bend belongs to neither side.
    before = rise[at - 2] if at >= 2 else rise[at - 1]
    known = float(before) if np.isfinite(before) else np.nan
    return Helping(stops, at, known, float(rise[at]))


def marks(line: Line) -> list[tuple[float, str]]:
    """Counts worth a mark in a drawing of the line, and what happens there."""
    found = helping(line)
    # At the first count nothing happens: it was so before.
    named = ((found.bends, "volts let go"), (found.stops, "more stop helping"))
    return [(float(line.series[at]), told) for at, told in named if at]


def _rise(line: Line) -> Array:
    """What a cell adds between neighbours, m/s; without end where the bike begins to start."""
    starts = can_start(line.speed)
    step = np.diff(np.nan_to_num(line.speed)) / np.diff(line.series)
    step = np.where(starts[1:] & ~starts[:-1], np.inf, step)
    return np.where(starts[:-1] & ~starts[1:], -np.inf, step)
