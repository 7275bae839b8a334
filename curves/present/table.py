"""A table of results: its columns are told once, and each place that shows it writes them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from curves.numerics.roots import Array
from curves.units import Units
from curves.words.digits import NONE, Written


class Table(NamedTuple):
    """Headings, rows of cells, and what the table is.

    A cell that is a number is ``Written``: text for people, its number for files and sorting.
    """

    columns: Sequence[str]
    rows: Sequence[Sequence[str | float]]
    caption: str = ""


class Column(NamedTuple):
    """A result, a value a row.

    Attributes:
        key: What programs call it.
        head: Its heading, without unit.
        values: Numbers in ``unit``, NaN where there is none; or tuples of words.
        unit: As fields have it, empty for none.
        places: Decimals that mean something; None for those that were given, two at most.
    """

    key: str
    head: str
    values: Array | Sequence[Any]
    unit: str = ""
    places: int | None = 1

    @property
    def has_words(self) -> bool:
        """Whether it holds words."""
        return len(self.values) > 0 and isinstance(self.values[0], tuple)

    def headed(self, units: Units, between: str = ", ") -> str:
        """Its heading with the unit that is read."""
        return between.join(filter(None, (self.head, units.name(self.unit))))

    def cells(self, units: Units, say: Callable[[float, int], str]) -> list[str]:
        """What stands in it.

        Args:
            units: What is read.
            say: Writes a number with so many decimals.
        """
        if self.has_words:
            return [", ".join(words) or NONE for words in self.values]
        shown = units.shown(np.asarray(self.values, dtype=float), self.unit).tolist()
        if self.places is None:
            return [Written(f"{round(x, 2):.9g}", x) for x in shown]
        return [say(x, self.places) for x in shown]


def keyed(columns: Iterable[Column]) -> dict[str, Column]:
    """Columns by what programs call them."""
    return {column.key: column for column in columns}


def picked(columns: Mapping[str, Column], *keys: str) -> list[Column]:
    """Some of the columns, in this order."""
    return [columns[key] for key in keys]


def rows_of(
    columns: Sequence[Column], units: Units, say: Callable[[float, int], str]
) -> list[list[str]]:
    """What stands in the rows, as ``Column.cells`` has it."""
    cells = [column.cells(units, say) for column in columns]
    return [list(row) for row in zip(*cells, strict=True)]


def records(columns: Sequence[Column]) -> list[dict[str, object]]:
    """The rows as programs read them: exact values by what they are called."""
    values = zip(*(column.values for column in columns), strict=True)
    keys = [column.key for column in columns]
    return [dict(zip(keys, row, strict=True)) for row in values]
