"""Samples put in order as they stream by: midnight, restarts, reversals, repeated times; no files.

Chunks go in, chunks come out; only the last few rows are kept back, so memory stays bounded.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from curves.measured.clock import DAY
from curves.numerics.roots import Array, Index

HELD: Final = 128
"""Rows kept back so that those a little late still find their place."""
RESTART_S: Final = 5.0
"""A clock that falls back by more has been set or started anew."""
PAUSE_S: Final = 60.0
"""Put between recordings that follow each other in one file."""
COARSE: Final = 0.4
"""Share of repeated times from which the clock is taken as too coarse for the samples."""


@dataclass
class Timeline:
    """Puts samples in order.

    Attributes:
        width: Columns of values.
        day: Whether the clock starts again at midnight.
        notes: What was found: a kind to its first line and how often.
    """

    width: int
    day: bool = False
    notes: dict[str, tuple[int, int]] = field(default_factory=dict)
    _offset: float = 0.0
    _last: float = -np.inf
    _first: bool = True
    _coarse: bool | None = None
    _released: float = -np.inf

    def __post_init__(self) -> None:
        self._time = np.zeros(0)
        self._lines = np.zeros(0, dtype=np.intp)
        self._values = np.zeros((0, self.width))

    def feed(self, time: Array, lines: Index, values: Array) -> tuple[Array, Array]:
        """Take some rows in; give back those whose place is settled.

        Args:
            time: s, shape (rows,).
            lines: Their line numbers, shape (rows,).
            values: Shape (rows, width).

        Returns:
            Times, rising, and values.
        """
        if not time.size:
            return np.zeros(0), np.zeros((0, self.width))
        times = self._unwrapped(time, lines)
        times = np.concatenate((self._time, times))
        rows = np.concatenate((self._values, values))
        places = np.concatenate((self._lines, lines))
        late = np.flatnonzero(np.diff(times) < 0)
        if late.size:
            self._note("late", int(places[late[0] + 1]), late.size)
            order = np.argsort(times, kind="stable")
            times, rows, places = times[order], rows[order], places[order]
        settled = times < times[-HELD] if times.size > HELD else np.zeros(times.size, np.bool_)
        self._time, self._values, self._lines = times[~settled], rows[~settled], places[~settled]
        return self._spread(times[settled], rows[settled], places[settled])

    def finish(self) -> tuple[Array, Array]:
        """The rows kept back."""
        return self._spread(self._time, self._values, self._lines)

    def _unwrapped(self, time: Array, lines: Index) -> Array:
        """The clock made to go on: a day added after midnight, a pause after a restart."""
        before = self._last if np.isfinite(self._last) else time[0]
        self._last = float(time[-1])
        steps = np.diff(time, prepend=before)
        jumps = np.zeros_like(steps)
        if self.day:
            midnight = steps < -DAY / 2
            jumps[midnight] = DAY
            for k in np.flatnonzero(midnight):
                self._note("midnight", int(lines[k]), 1)
        back = steps + jumps < -RESTART_S
        for k in np.flatnonzero(back):
            self._note("restart", int(lines[k]), 1)
        jumps[back] = PAUSE_S - steps[back]
        offsets = self._offset + np.cumsum(jumps)
        self._offset = float(offsets[-1])
        return np.asarray(time + offsets)

    def _spread(self, time: Array, values: Array, lines: Index) -> tuple[Array, Array]:
        """Times that repeat: spread over the tick of a coarse clock, or their samples averaged."""
        if time.size and time[0] < self._released:
            # So late that its place has gone by.
            keep = time >= self._released
            self._note("lost", int(lines[0]), int(np.sum(~keep)))
            time, values, lines = time[keep], values[keep], lines[keep]
        if time.size < 2:
            return time, values
        again = np.diff(time, prepend=-np.inf) == 0
        if self._coarse is None:
            self._coarse = bool(np.mean(again) > COARSE)
        self._released = float(time[-1])
        if not again.any():
            self._first = False
            return time, values
        starts = np.flatnonzero(~again)
        sizes = np.diff(starts, append=time.size)
        if self._coarse:
            self._note("coarse", 0, int(again.sum()))
            return self._within_ticks(time, starts, sizes), values
        self._note("repeated", int(lines[np.argmax(again)]), int(again.sum()))
        return time[starts], group_means(values, starts)

    def _within_ticks(self, time: Array, starts: Index, sizes: Index) -> Array:
        distinct = time[starts]
        tick = float(np.median(np.diff(distinct))) if distinct.size > 1 else 0.0
        usual = int(np.median(sizes))
        width = np.minimum(np.diff(distinct, append=distinct[-1] + tick), 1.5 * tick)
        full = np.maximum(sizes, usual)
        skipped = np.zeros(sizes.size, dtype=np.intp)
        if self._first:
            # A recording begins somewhere within a tick.
            skipped[0] = full[0] - sizes[0]
        self._first = False
        place = np.arange(time.size) - np.repeat(starts, sizes) + np.repeat(skipped, sizes)
        return np.asarray(time + place * np.repeat(width / full, sizes))

    def _note(self, kind: str, line: int, times: int) -> None:
        first, count = self.notes.get(kind, (line, 0))
        self.notes[kind] = (first, count + times)


def group_means(values: Array, starts: Index) -> Array:
    """Mean of each column over groups of rows, of the values there are; NaN where there are none.

    Args:
        values: Shape (rows, columns).
        starts: First row of each group, rising from 0, shape (groups,).
    """
    there = ~np.isnan(values)
    count = np.add.reduceat(there, starts, axis=0, dtype=np.float64)
    total = np.add.reduceat(np.where(there, values, 0.0), starts, axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(total / count)
