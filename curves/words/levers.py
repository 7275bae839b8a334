"""What a little more of each thing buys at top speed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from curves.steady.balance import CEILING_WORDS, COASTING
from curves.studies.levers import CELL, VOLT, WORTH, bought
from curves.units import AS_WRITTEN, Units
from curves.words.digits import digits


def buys(
    gained: Mapping[str, float],
    limited_by: Sequence[str],
    *,
    units: Units = AS_WRITTEN,
    most: int = 3,
) -> str:
    """“One more … here buys …” at a setup's top speed, in one sentence.

    Args:
        gained: What ``tried`` gives for a setup that starts.
        limited_by: The words of what limits its top speed.
        units: For the sentence.
        most: How many changes to name.
    """
    if not limited_by:
        return "The rider alone holds this speed: the motor gives nothing more there."
    held = [word for word in limited_by if word in CEILING_WORDS]
    if held:
        return f"Held by the {' and the '.join(held)}: nothing else buys speed here."
    found = bought(gained, units)[:most]
    unit = units.name("km/h")
    volts = _no_volts(gained, units)
    rolls = "It rolls faster than the motor drives it. " if COASTING in limited_by else ""
    if not found:
        return f"{rolls}A little more of any one thing buys no speed worth naming here."
    first, *rest = (f"{x.lever.change} buys {digits(x.gain, 2)} {unit}" for x in found)
    first = first.replace(" buys ", " here buys ", 1)
    return f"{rolls}{first[:1].upper()}{', '.join([first[1:], *rest])}{volts}."


def _no_volts(gained: Mapping[str, float], units: Units) -> str:
    """The question of most tuners, answered where the answer is no."""
    # A pack is made of cells, or has volts.
    more = [gained[x.name] for x in (VOLT, CELL) if math.isfinite(gained[x.name])]
    none = more and units.change(max(more), "km/h") < WORTH
    return "; more volts buy nothing" if none else ""
