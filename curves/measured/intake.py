"""Chunks of a log taken in: cells to numbers, and what is said of lines that hold none."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from curves.measured.clock import seconds
from curves.measured.columns import Column
from curves.measured.dialect import Dialect, number
from curves.measured.samples import Log
from curves.measured.thinning import Thinner
from curves.measured.timeline import Timeline
from curves.measured.vocabulary import CLOCK_UNIT, to_si
from curves.numerics.roots import Array, Index
from curves.parts.reading import refuse, show

TOLD: Final = 3
"""Lines named one by one."""
BAD_SHARE: Final = 0.1
"""Share of lines without a readable time past which a log is refused."""
FEW: Final = 3
"""Lines that may be unreadable in a short log."""


@dataclass(frozen=True)
class Look:
    """A log at first sight.

    Attributes:
        name: Of the file.
        dialect: How it is written; None for GPX.
        columns: What its columns seem to be.
    """

    name: str
    dialect: Dialect | None
    columns: tuple[Column, ...]


@dataclass
class Intake:
    """What is kept while a log streams by."""

    name: str
    look: Look
    window: tuple[float, float]
    keep: int
    lines: int = 0
    left_out: int = 0
    bad_cells: int = 0
    told: list[str] = field(default_factory=list)
    first: float | None = None

    def __post_init__(self) -> None:
        self.quantities = [c.quantity for c in self.look.columns if c.quantity != "time"]
        clock = next(c for c in self.look.columns if c.quantity == "time")
        self.timeline = Timeline(len(self.quantities), day=clock.unit == CLOCK_UNIT)
        self.thinner = Thinner(len(self.quantities), self.keep)

    def leave_out(self, line: int, why: str, *, cell: bool = False) -> None:
        """Note a line, or one of its cells, that cannot be used."""
        if cell:
            self.bad_cells += 1
        else:
            self.left_out += 1
        if len(self.told) < TOLD:
            self.told.append(f"line {line}: {why}")

    def take(self, time: Array, lines: Index, values: Array) -> None:
        """Samples of one chunk."""
        self._pass_on(*self.timeline.feed(time, lines, values))

    def _pass_on(self, time: Array, values: Array, *, last: bool = False) -> None:
        if time.size and self.first is None:
            self.first = float(time[0])
        since = time - (self.first or 0.0)
        inside = (since >= self.window[0]) & (since <= self.window[1])
        self.thinner.add(since[inside], values[inside], last=last)

    def log(self) -> Log:
        """Everything there was."""
        self._pass_on(*self.timeline.finish(), last=True)
        total = max(self.lines, 1)
        if self.left_out > max(BAD_SHARE * total, FEW) or self.left_out > total / 2:
            refuse(
                self.name,
                f"{self.left_out} of {total} lines cannot be read. {'; '.join(self.told)}",
            )
        time, values = self.thinner.result()
        if time.size < 2:
            within = "" if self.first is None else " in the part asked for"
            refuse(self.name, f"has {time.size} samples{within}: a log needs more")
        columns = {
            quantity: values[:, k]
            for k, quantity in enumerate(self.quantities)
            if np.isfinite(values[:, k]).any()
        }
        return Log(
            name=self.name,
            time=time,
            values=columns,
            columns=self.look.columns,
            notes=tuple(self._notes()),
            lines=self.lines,
            averaged=self.thinner.stride,
        )

    def _notes(self) -> Iterator[str]:
        if self.left_out or self.bad_cells:
            more = self.left_out + self.bad_cells - len(self.told)
            yield (
                f"{self.left_out} lines and {self.bad_cells} single values are left out: "
                f"{'; '.join(self.told)}{f'; and {more} more' if more > 0 else ''}."
            )
        words = {
            "midnight": "midnight passes at line {line}",
            "restart": "the clock falls back {count} times, first at line {line}: "
            "what follows counts as another recording",
            "late": "{count} samples were out of order, first on line {line}, and are sorted in",
            "lost": "{count} samples came far too late and are left out",
            "coarse": "the clock is coarser than the samples: {count} times repeat and are spread "
            "evenly over its ticks",
            "repeated": "{count} times repeat, first on line {line}: such samples are averaged",
        }
        for kind, (line, count) in self.timeline.notes.items():
            said = words[kind].format(line=line, count=count)
            yield f"{said[0].upper()}{said[1:]}."
        if self.thinner.stride > 1:
            yield (
                f"{self.thinner.stride} neighbouring samples are averaged into one, because "
                "the log is long: a part of it is read finer."
            )
        for column in self.look.columns:
            if not column.sure:
                yield (
                    f"{column.name} is taken as {column.quantity} in {column.unit}"
                    f"{f' ({column.why})' if column.why else ''}: check it."
                )


def to_numbers(
    rows: list[list[str]], lines: list[int], look: Look, intake: Intake
) -> tuple[Array, Index, Array]:
    """Cells to times, line numbers and values in SI; lines without a time are left out."""
    decimal = look.dialect.decimal if look.dialect else "."
    time = np.zeros(0)
    values = []

    def as_number(text: str) -> float:
        return number(text, decimal)

    for column in look.columns:
        cells = [row[column.index] for row in rows]
        clock = column.unit == CLOCK_UNIT and column.quantity == "time"
        quick = None if clock else _quick(cells, decimal)
        convert = seconds if clock else as_number
        found = _each(cells, lines, convert, column, intake) if quick is None else quick
        if column.quantity == "time":
            time = to_si(found, "time", column.unit)
            continue
        found[~np.isfinite(found)] = np.nan
        values.append(to_si(found, column.quantity, column.unit))
    good = np.isfinite(time)
    return time[good], np.array(lines, dtype=np.intp)[good], np.column_stack(values)[good]


def _quick(cells: list[str], decimal: str) -> Array | None:
    """Cells that are all plain numbers; None if one is not."""
    if decimal == ",":
        if any("." in cell for cell in cells):
            return None
        cells = [cell.replace(",", ".") for cell in cells]
    try:
        return np.array(list(map(float, cells)))
    except ValueError:
        return None


def _each(
    cells: list[str],
    lines: list[int],
    convert: Callable[[str], float],
    column: Column,
    intake: Intake,
) -> Array:
    """Cells one by one, noting those that cannot be read."""
    found = np.full(len(cells), np.nan)
    is_time = column.quantity == "time"
    for k, cell in enumerate(cells):
        text = cell.strip()
        try:
            found[k] = convert(text)
        except ValueError:
            kind = "time" if is_time else "number"
            why = f"{column.name} = {show(text)} is no {kind}"
            intake.leave_out(lines[k], why, cell=not is_time)
            continue
        if is_time and np.isnan(found[k]):
            intake.leave_out(lines[k], f"{column.name} is empty")
    return found
