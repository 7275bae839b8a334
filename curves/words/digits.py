"""Numbers for people: no more digits than the numbers deserve."""

from __future__ import annotations

import math
from typing import Final

NONE: Final = "–"
"""Where there is no number."""
MOST_DECIMALS: Final = 6
BANDS: Final = (
    "Nine bikes in ten land within ± or the figures in brackets. No input is moved past what is "
    "possible."
)
"""What a band means to who reads it."""
EVEN: Final = 0.6
"""Share of the wider side of a band that the other has at least, for one ± to tell both."""
NEGLIGIBLE: Final = 1e-6
"""Half a band narrower than this, relative, is the solver's, not the inputs'."""


class Written(str):
    """A number as people read it, which any program may ask for the number itself.

    Attributes:
        value: the number; NaN where there is none.
    """

    value: float

    def __new__(cls, text: str, value: float = math.nan) -> Written:
        """Text and number together."""
        made = super().__new__(cls, text)
        made.value = float(value)
        return made


def digits(value: float, significant: int = 3) -> Written:
    """A number with so many significant digits, never in powers of ten.

    Args:
        value: the number; NaN and infinite are shown as a dash.
        significant: digits that mean something.
    """
    if not math.isfinite(value):
        return Written(NONE)
    return _written(value, _places(value, significant))


def fixed(value: float, places: int) -> Written:
    """A number with so many decimals, a dash for none.

    Args:
        value: the number.
        places: decimals.
    """
    return _written(value, places) if math.isfinite(value) else Written(NONE)


def within(value: float, half: float) -> Written:
    """A number to the digit its band allows and three at most: the first that moves is the last.

    Args:
        value: the number; NaN is shown as a dash.
        half: half of its band in the same unit; NaN or 0 where none is known.
    """
    if not math.isfinite(value) or not half > 0:
        return digits(value)
    allowed = -math.floor(math.log10(half))
    return _written(value, min(allowed, _places(value, 3)))


def banded(value: float, half: float) -> Written:
    """A number with half its band behind it, as in ``45 ± 3``.

    Args:
        value: the number; NaN is shown as a dash.
        half: half of its band; NaN or 0 where none is known, and then none is shown.
    """
    if not math.isfinite(value) or not half > NEGLIGIBLE * abs(value):
        return digits(value)
    return Written(f"{within(value, half)} ± {digits(half, 1)}", value)


def is_even(value: float, low: float, high: float) -> bool:
    """Whether one ± tells both sides of a band.

    Args:
        value: what it is about.
        low: the 5 % point; NaN where there is no result.
        high: the 95 % point.
    """
    less, more = value - low, high - value
    return math.isfinite(less + more) and min(less, more) >= EVEN * max(less, more)


def spanned(value: float, low: float, high: float, unit: str = "", *, none: str = "") -> Written:
    """A number with its band behind it: ``45 ± 3``, or ``8.8 (5.5 to 11)`` where sides differ.

    Args:
        value: the number; NaN is shown as a dash.
        low: the 5 % point of its band.
        high: the 95 % point; one that is NaN has no result there.
        unit: stands behind the number or its ±, empty for none.
        none: what is said where one end has no result, such as ``may not start``.
    """
    after = f" {unit}" if unit else ""
    if not has_band(value, low, high):
        said = f"{digits(value)}{after}"
    elif is_even(value, low, high):
        said = f"{banded(value, (high - low) / 2)}{after}"
    else:
        said = f"{digits(value, 2)}{after} {ends(low, high, none)}"
    return Written(said, value)


def has_band(value: float, low: float, high: float) -> bool:
    """Whether ``spanned`` tells a band.

    Args:
        value: as there, with the other two.
        low: the 5 % point.
        high: the 95 % point.
    """
    return math.isfinite(value) and not max(value - low, high - value) <= NEGLIGIBLE * abs(value)


def ends(low: float, high: float, none: str = "") -> str:
    """Both ends of a band in brackets, or the one there is.

    Args:
        low: the 5 % point, NaN where there is no result.
        high: the 95 % point.
        none: what is said where one has no result.
    """
    said = [digits(x, 2) for x in (low, high)]
    if math.isfinite(low + high):
        return f"({said[0]} to {said[1]})"
    known = [f"{word} {x}" for word, x in zip(("from", "up to"), said, strict=True) if x != NONE]
    return f"({'; '.join(filter(None, (*known, none)))})"


def _places(value: float, significant: int) -> int:
    """Decimals that show so many significant digits; below 0 for tens, hundreds and so on."""
    if abs(value) < 0.5 * 10.0**-MOST_DECIMALS:
        return 0
    places = significant - 1 - math.floor(math.log10(abs(value)))
    # Rounding up may bring one more digit in front: 9.996 to 10.00.
    rounded = round(value, places)
    return significant - 1 - math.floor(math.log10(abs(rounded)))


def _written(value: float, places: int) -> Written:
    places = min(places, MOST_DECIMALS)
    # Adding 0 makes a rounded -0 a plain one.
    return Written(f"{round(value, places) + 0.0:.{max(places, 0)}f}", value)
