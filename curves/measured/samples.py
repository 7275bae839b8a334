"""A log once read: samples over time in SI, and what had to be done to them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.measured.columns import Column
from curves.numerics.roots import Array


@dataclass(frozen=True)
class Log:
    """Samples of a recording, in order.

    Attributes:
        name: Of the file.
        time: s from the first sample, rising, shape (samples,).
        values: By quantity (``vocabulary.QUANTITIES`` without time), SI, temperatures in °C, angles
            in degrees; shape (samples,), NaN where the log has no value.
        columns: What each column was taken to be.
        notes: What was done to lines that were no plain samples, in sentences.
        lines: Lines of data there were.
        averaged: How many lines make up a sample.
    """

    name: str
    time: Array
    values: Mapping[str, Array]
    columns: tuple[Column, ...]
    notes: tuple[str, ...]
    lines: int
    averaged: int

    @property
    def interval(self) -> float:
        """Usual time between samples, s; NaN for fewer than two."""
        return float(np.median(np.diff(self.time))) if self.time.size > 1 else np.nan

    def part(self, start: float, end: float) -> Log:
        """The samples within a time, clock unchanged.

        Args:
            start: s.
            end: s.
        """
        inside = (self.time >= start) & (self.time <= end)
        values = {name: x[inside] for name, x in self.values.items()}
        return Log(
            self.name,
            self.time[inside],
            values,
            self.columns,
            self.notes,
            self.lines,
            self.averaged,
        )
