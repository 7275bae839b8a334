"""Values that no light vehicle has: what follows from them is no surer than they are."""

from __future__ import annotations

from collections.abc import Iterator

from curves.cautions.caution import PRACTICE, Caution
from curves.parts.plausible import ASKED, odd
from curves.parts.rig import Rig
from curves.units import Units

TITLE = "no light vehicle has that"


def implausible(rig: Rig, units: Units) -> Iterator[Caution]:
    """Every value of the setup outside its plausible range."""
    for one in odd(rig):
        least, most = one.range
        yield Caution(
            "implausible",
            "warning",
            TITLE,
            f"{ASKED} {one.said(units)[:1].upper()}{one.said(units)[1:]}. All that is said of "
            "this setup rests on it.",
            float(units.shown(one.value, one.unit)),
            float(units.shown(most if one.value > most else least, one.unit)),
            units.name(one.unit),
            PRACTICE,
        )
