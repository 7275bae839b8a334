"""Numbers and tables for people: no more digits than the numbers deserve."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from rich.box import SIMPLE_HEAD
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from curves.studies.spread import BAND

NONE = "–"
"""Where there is no number."""
ESTIMATES = "Estimates from a steady-state model and the numbers in the job."
BANDS = "± is half the band from 5 to 95 % that the inputs' tolerances give, to first order."


MOST_DECIMALS = 6
NEGLIGIBLE = 1e-6
"""A relative spread below this is the solver's, not the inputs'."""


def digits(value: float, significant: int = 3) -> str:
    """A number with so many significant digits, never in powers of ten.

    Args:
        value: the number; NaN and infinite are shown as a dash.
        significant: digits that mean something.
    """
    return _written(value, _places(value, significant)) if math.isfinite(value) else NONE


def within(value: float, spread: float) -> str:
    """A number to the digit its band allows and three at most: the first that moves is the last.

    Args:
        value: the number; NaN is shown as a dash.
        spread: its standard uncertainty in the same unit; NaN or 0 where none is known.
    """
    if not math.isfinite(value) or not spread > 0:
        return digits(value)
    allowed = -math.floor(math.log10(BAND * spread))
    return _written(value, min(allowed, _places(value, 3)))


def _places(value: float, significant: int) -> int:
    """Decimals that show so many significant digits; below 0 for tens, hundreds and so on."""
    if value == 0:
        return 0
    places = significant - 1 - math.floor(math.log10(abs(value)))
    # Rounding up may bring one more digit in front: 9.996 to 10.00.
    rounded = round(value, places)
    return significant - 1 - math.floor(math.log10(abs(rounded)))


def _written(value: float, places: int) -> str:
    places = min(places, MOST_DECIMALS)
    # Adding 0 makes a rounded -0 a plain one.
    return f"{round(value, places) + 0.0:.{max(places, 0)}f}"


def banded(value: float, spread: float) -> str:
    """A number with half its 5 to 95 % band behind it, as in ``45 ± 3``.

    Args:
        value: the number; NaN is shown as a dash.
        spread: its standard uncertainty; NaN or 0 where none is known, and then no band is shown.
    """
    if not math.isfinite(value) or not spread > NEGLIGIBLE * abs(value):
        return digits(value)
    return f"{within(value, spread)} ± {digits(BAND * spread, 1)}"


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
