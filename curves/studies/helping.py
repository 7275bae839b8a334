"""Whether more cells help top speed: the one rule, for every page, command and report."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from curves.digits import digits
from curves.numerics.counts import whole
from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed
from curves.steady.starting import starts as can_start
from curves.studies.cells import with_series
from curves.studies.common import held_by
from curves.units import AS_WRITTEN, KMH, Units

WORTH_KMH: Final = 0.1
"""A cell that adds less top speed than this does not help, km/h."""
MOST_CELLS: Final = 400
"""The largest count that is looked at; no light vehicle comes near it."""
MOST_COUNTS: Final = 61
"""Counts looked at between half and twice a pack's own; it is enough for a smooth line."""
SEEN: Final = 0.05
"""A difference in top speed that shows, in the unit it is told in."""


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


def verdict(line: Line, units: Units = AS_WRITTEN) -> list[str]:
    """What more cells do, in clauses; the first can stand alone.

    Args:
        line: Top speed over cells in series.
        units: For the words.
    """
    found, unit = helping(line), units.name("km/h")
    first, last = f"{line.series[0]:.0f}", f"{line.series[-1]:.0f}"
    if not can_start(line.speed).any():
        return [f"it cannot start with {first} to {last} cells in series"]
    top = units.speed(line.speed)
    said: list[str] = []
    if found.stops is not None:
        said = _stopped(line, found.stops, units)
    if found.bends is not None:
        held, count = held_by(line.words[found.bends]), f"{line.series[found.bends]:.0f}"
        was = f", before that {_speed(found.before, units)}" if found.before == found.before else ""
        adds = f"a cell more adds {_speed(found.after, units)} {unit}{was}"
        verb = "holds" if len(line.words[found.bends]) == 1 else "hold"
        said.append(f"from {count} cells on {held} {verb} top speed, not volts: {adds}")
    if found.stops is None and found.bends is None:
        held = held_by(line.words[-1])
        said.append(
            f"more cells raise top speed all the way to {last} in series, {top[-1]:.1f} {unit}, "
            f"held by {held} even there"
        )
    elif found.stops is None:
        said.append(f"{last} cells reach {top[-1]:.1f} {unit}")
    return said


def _stopped(line: Line, at: int, units: Units) -> list[str]:
    """Where more cells stop helping, what holds there, and what the most of them come to."""
    top, unit = units.speed(line.speed), units.name("km/h")
    last, held = f"{line.series[-1]:.0f}", held_by(line.words[at])
    worth = f"a cell more adds less than {units.speed(WORTH_KMH * KMH):.2g} {unit}"
    if at == 0:
        first = f"{line.series[0]:.0f}"
        begun = f"more cells do not help from {first} to {last} in series"
        told = [f"{begun}: {top[0]:.1f} {unit}, held by {held}"]
        free = "voltage does not hold top speed there"
        return [*told, *([] if "voltage" in line.words[0] else [free]), worth]
    before, end = line.words[at - 1], top[-1]
    why = f"where {line.series[at - 1]:.0f} are held by {held_by(before)}"
    most = f"{last} cells make it no faster ({end:.1f} {unit})"
    if not can_start(end):
        most = f"{last} cells cannot start"
    elif end - top[at] > SEEN:
        most = f"{last} cells reach {end:.1f} {unit}"
    return [
        f"more cells stop helping top speed at {line.series[at]:.0f} in series: "
        f"{top[at]:.1f} {unit}, held by {held}, {why if before else 'and starts there'}",
        worth,
        most,
    ]


def _speed(value: float, units: Units) -> str:
    return digits(float(units.speed(value)), 2)
