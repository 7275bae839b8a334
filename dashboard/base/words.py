"""Words and numbers for people: units, digits, differences; and text made safe for plots."""

from __future__ import annotations

import html
import math
import re

from curves.units import KMH, MPH, Units
from curves.words.digits import NONE as NONE
from curves.words.digits import Written

MINUS = "−"
UNITS = "±|km/h|mph|km|mi|°C|°F|kg|lb|N·m|lbf·ft|Wh/km|Wh|W|V|A|%|cells|m²|m|ft|s|min"


def speed_factor(unit: str) -> float:
    """What a speed in km/h is multiplied by."""
    return KMH / MPH if unit == "mph" else 1.0


def number(value: float, digits: int = 0, unit: str = "") -> Written:
    """A number with a real minus sign and thousands set apart; a dash for none.

    Args:
        value: The number.
        digits: Behind the point.
        unit: What stands behind it, such as %.
    """
    if not math.isfinite(value):
        return Written(NONE)
    rounded = round(value, digits) + 0.0
    said = f"{rounded:,.{digits}f}".replace("-", MINUS)
    return Written(f"{said} {unit}" if unit else said, value)


def exact(value: float, significant: int = 6) -> Written:
    """A number with no digits that nobody typed."""
    return Written(f"{value:.{significant}g}", value)


def signed(value: float, digits: int = 0) -> Written:
    """A difference, always with its sign."""
    said = number(value, digits)
    return said if said.startswith(MINUS) or said == NONE else Written(f"+{said}", value)


def speed(kmh: float, unit: str, digits: int = 1) -> Written:
    """A speed without its unit."""
    return number(kmh * speed_factor(unit), digits)


def with_unit(value: float, unit: str, units: Units, digits: int = 0) -> str:
    """A number of the job's unit as it is read, its unit behind it."""
    return f"{number(units.shown(value, unit), digits)}\u00a0{units.name(unit)}"


def unbroken(text: str) -> str:
    """A sentence in which a number stays with its unit at the end of a line."""
    kept = re.sub(rf"(?<=\d) (?=({UNITS})(?!\w))|(?<=±) (?=\d)", "\u00a0", text)
    return re.sub(r"(?<=\d\u00a0%) (?=at \d)|(?<=\d\u00a0V) (?=DC)", "\u00a0", kept)


def plot_safe(text: str, most: int = 28) -> str:
    """What a user typed, for a plot: cut to length, and no mark-up left in it."""
    return html.escape(cut(text, most), quote=False)


def cut(text: str, most: int = 28) -> str:
    """What a user typed, on one line and cut to length."""
    line = " ".join(text.split())
    return line if len(line) <= most else f"{line[: most - 1].rstrip()}…"


def not_taken(texts: list[str], right: str) -> str:
    """What is said beside a list of texts that were typed of those that are left out.

    Args:
        texts: Those, as typed.
        right: What would be right.
    """
    if not texts:
        return ""
    named = listed([f"“{cut(text)}”" for text in texts])
    return f"{named} {'is' if len(texts) == 1 else 'are'} left out: write {right}"


def listed(words: tuple[str, ...] | list[str]) -> str:
    """Words as a list in a sentence."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
