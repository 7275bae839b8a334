"""Times as loggers write them: dates and clock times to seconds; touches no file."""

from __future__ import annotations

import re
from datetime import date
from functools import lru_cache
from typing import Final

from curves.units import HOUR, MINUTE

DAY: Final = 24 * HOUR
START: Final = date(2000, 1, 1).toordinal()
"""Days are counted from here, which leaves seconds room for microseconds."""
CLOCK: Final = re.compile(
    r"(?:(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})(?:[T ,]\s*|$))?"
    r"(?:(\d{1,3}):(\d{1,2})(?::(\d{1,2}))?(?:[.,:](\d+))?)?"
    r"\s*([AaPp]\.?[Mm]\.?)?\s*(Z|UTC|GMT|[+-]\d{2}:?\d{2})?"
)


def is_clock(text: str) -> bool:
    """Whether a cell is a date or a clock time."""
    match = CLOCK.fullmatch(text)
    return match is not None and (match[1] is not None or match[4] is not None)


def seconds(text: str) -> float:
    """A date, a clock time or both as seconds; two fields are minutes and seconds if they can be.

    Only differences mean something. Days are counted where there is a date; the order of day and
    month is told by which can be a month, day first where both can.

    Args:
        text: such as ``2024-06-11T09:30:00.25Z``, ``11/06/2024 9:30:00``, ``09:30:00,250``,
            ``1:02.5``.

    Raises:
        ValueError: if it is no such text, or such a day or time cannot be.
    """
    match = CLOCK.fullmatch(text)
    if match is None or (match[1] is None and match[4] is None):
        raise ValueError(text)
    a, b, c, first, second, third, fraction, half, _ = match.groups()
    days = _days(a, b, c) if a else 0
    if first is None:
        return days * DAY
    tail = float(f"0.{fraction}") if fraction else 0.0
    if third is None and (fraction is not None or a is None):
        if int(second) >= 60:
            raise ValueError(text)
        return days * DAY + int(first) * MINUTE + int(second) + tail
    hour, minute, whole = int(first), int(second), int(third or 0)
    if minute >= 60 or whole > 60:
        raise ValueError(text)
    if half:
        hour = hour % 12 + (12 if half[0] in "Pp" else 0)
    return days * DAY + hour * HOUR + minute * MINUTE + whole + tail


@lru_cache(maxsize=64)
def _days(a: str, b: str, c: str) -> int:
    """Days since 2000, of a date whose year stands first or last."""
    if len(a) > 2:
        return date(int(a), int(b), int(c)).toordinal() - START
    year, first, second = int(c), int(a), int(b)
    year += 2000 if year < 100 else 0
    day, month = (second, first) if second > 12 else (first, second)
    return date(year, month, day).toordinal() - START
