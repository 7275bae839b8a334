"""Samples without end in bounded memory: neighbours are averaged when there are too many."""

from __future__ import annotations

from typing import Final

import numpy as np

from curves.measured.timeline import group_means
from curves.numerics.roots import Array, Index

KEEP: Final = 200_000
"""Samples that are always kept: half an hour at 100 Hz."""
GAP: Final = 4.0
"""Usual intervals after which samples are not averaged across."""


class Thinner:
    """Takes samples in and keeps at most twice ``keep`` of them.

    Args:
        width: Columns of values.
        keep: Samples kept without averaging.
    """

    def __init__(self, width: int, keep: int = KEEP) -> None:
        self.stride = 1
        self._keep = keep
        self._parts: list[Array] = []
        self._pending = np.zeros((0, width + 1))
        self._count = 0

    def add(self, time: Array, values: Array, *, last: bool = False) -> None:
        """Take samples in.

        Args:
            time: s, not falling, after those before, shape (samples,).
            values: Shape (samples, width).
            last: Whether these are the last ones.
        """
        rows = np.concatenate((self._pending, np.column_stack((time, values))))
        if not rows.size:
            return
        starts = _groups(rows[:, 0], self.stride)
        if not last and rows.shape[0] - starts[-1] < self.stride:
            self._pending = rows[starts[-1] :]
            rows, starts = rows[: starts[-1]], starts[:-1]
        else:
            self._pending = rows[:0]
        if starts.size:
            self._store(group_means(rows, starts) if self.stride > 1 else rows)

    def result(self) -> tuple[Array, Array]:
        """Times and values of the samples kept."""
        if not self._parts:
            return self._pending[:0, 0], self._pending[:0, 1:]
        rows = np.concatenate(self._parts)
        return rows[:, 0], rows[:, 1:]

    def _store(self, rows: Array) -> None:
        self._parts.append(rows)
        self._count += rows.shape[0]
        while self._count > 2 * self._keep:
            whole = np.concatenate(self._parts)
            halved = group_means(whole, _groups(whole[:, 0], 2))
            self._parts, self._count = [halved], halved.shape[0]
            self.stride *= 2


def _groups(time: Array, size: int) -> Index:
    """First rows of groups of neighbours, none of which spans a gap, shape (groups,)."""
    if size == 1:
        return np.arange(time.size)
    steps = np.diff(time)
    usual = np.median(steps) if steps.size else 0.0
    begins = np.concatenate(([0], 1 + np.flatnonzero(steps > GAP * usual)))
    since = np.arange(time.size) - np.repeat(begins, np.diff(begins, append=time.size))
    return np.flatnonzero(since % size == 0)
