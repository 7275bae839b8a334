"""Tables for people, and bands from standard uncertainties."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from curves.numerics.normal import BAND
from curves.present.table import Column, rows_of
from curves.units import AS_WRITTEN
from curves.words import digits as numbers
from curves.words.digits import BANDS as BANDS
from curves.words.digits import NONE as NONE
from curves.words.digits import digits as digits
from curves.words.digits import fixed
from curves.words.digits import spanned as spanned

ESTIMATES = "Estimates from a steady-state model and the numbers in the job."


def within(value: float, spread: float) -> str:
    """A number to the digit that its standard uncertainty allows; NaN or 0 where none is known."""
    return numbers.within(value, BAND * spread)


def banded(value: float, spread: float) -> str:
    """A number with half its 5 to 95 % band behind it, from its standard uncertainty."""
    return numbers.banded(value, BAND * spread)


MOST_TOLD = 100
"""Setups in tables for people; a program asks for all of them."""


def all_told(count: int) -> list[str]:
    """What is said below tables of setups: how many of them are left out, if any are."""
    if count <= MOST_TOLD:
        return []
    return [f"The first {MOST_TOLD} of {count:,} setups are shown; --json and --csv give all."]


LONGEST_WORD = 24
"""Columns that a name without spaces may claim before it is broken."""


def table(
    columns: Sequence[str], rows: Iterable[Sequence[str]], *, title: str = "", words: int = 1
) -> Table:
    """A table in which texts stand left and numbers right.

    Args:
        columns: headings, each with its unit.
        rows: cells as texts.
        title: what stands above, empty for none.
        words: how many columns hold words: the first, and the last ``words - 1``.
    """
    made = Table(
        title=Text(title) if title else None,
        title_justify="left",
        box=SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1, 0, 0),
    )
    lines = [list(row) for row in rows]
    last = len(columns) - (words - 1)
    for k, heading in enumerate(columns):
        left = k == 0 or k >= last
        cells = [line[k] for line in lines]
        made.add_column(
            Text(heading),
            justify="left" if left else "right",
            overflow="fold",
            min_width=_narrowest(heading, cells, broken=left),
        )
    for line in lines:
        made.add_row(*(Text(cell) for cell in line))
    return made


def results(columns: Sequence[Column], *, title: str = "") -> Table:
    """A table of results, those that are words at its end.

    Args:
        columns: of the table.
        title: what stands above.
    """
    heads = [column.headed(AS_WRITTEN, " ") for column in columns]
    words = 1 + sum(column.has_words for column in columns)
    lower = [f"{head[0].lower()}{head[1:]}" for head in heads]
    return table(lower, rows_of(columns, AS_WRITTEN, fixed), title=title, words=words)


def _narrowest(heading: str, cells: Iterable[str], *, broken: bool) -> int:
    """Width that breaks no word, and no number at all, up to a bound for names without spaces."""
    pieces = heading.split()
    for cell in cells:
        pieces += cell.split() if broken else [cell]
    return min(max((cell_len(piece) for piece in pieces), default=1), LONGEST_WORD)


def indented(text: str) -> Padding:
    """A paragraph set in by two columns, further lines too."""
    return Padding(Text(text), (0, 0, 0, 2))


def listed(words: Iterable[str]) -> str:
    """Words as people list them, a dash for none."""
    return ", ".join(words) or NONE
