"""A table of results, for a page to paint, a spreadsheet and other programs to read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple


class Table(NamedTuple):
    """Headings, rows of cells, and what the table is.

    A cell that is a number is ``Written``: text for people, its number for files and sorting.
    """

    columns: Sequence[str]
    rows: Sequence[Sequence[str | float]]
    caption: str = ""
