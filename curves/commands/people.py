"""Tables for people, and bands from standard uncertainties."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.box import SIMPLE_HEAD
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from curves import digits as numbers
from curves.digits import NONE as NONE
from curves.digits import digits as digits
from curves.studies.spread import BAND

ESTIMATES = "Estimates from a steady-state model and the numbers in the job."
BANDS = "± is half the band from 5 to 95 % that the inputs' tolerances give, to first order."


def within(value: float, spread: float) -> str:
    """A number to the digit that its standard uncertainty allows; NaN or 0 where none is known."""
    return numbers.within(value, BAND * spread)


def banded(value: float, spread: float) -> str:
    """A number with half its 5 to 95 % band behind it, from its standard uncertainty."""
    return numbers.banded(value, BAND * spread)


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
        title=Text(title) if title else None, title_justify="left", box=SIMPLE_HEAD, pad_edge=False
    )
    last = len(columns) - (words - 1)
    for k, heading in enumerate(columns):
        left = k == 0 or k >= last
        made.add_column(Text(heading), justify="left" if left else "right", overflow="fold")
    for row in rows:
        made.add_row(*(Text(cell) for cell in row))
    return made


def indented(text: str) -> Padding:
    """A paragraph set in by two columns, further lines too."""
    return Padding(Text(text), (0, 0, 0, 2))


def listed(words: Iterable[str]) -> str:
    """Words as people list them, a dash for none."""
    return ", ".join(words) or NONE
