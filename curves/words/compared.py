"""Setups beside each other: what they are called, and how their speeds are told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array
from curves.parts.labels import MAY_NOT_START
from curves.parts.rig import Rig
from curves.studies.spread import top_speed_band
from curves.units import Units
from curves.words.digits import has_band, spanned

MOST_NAMES = 12
"""Setups named one after another; more are counted."""


@dataclass(frozen=True)
class Compared:
    """The setups with what ``Tops`` says of them."""

    rigs: Sequence[Rig]
    full: Array
    empty: Array
    hill: Array
    words: tuple[tuple[str, ...], ...]
    units: Units

    @property
    def unit(self) -> str:
        """Of speed, as it is read."""
        return self.units.name("km/h")

    def label(self, k: int) -> str:
        """A setup's name in quotes.

        Args:
            k: its place.
        """
        return f"“{self.rigs[k].name}”"


class Name(str):
    """What a pack is called: a count of cells, which is many, or a setup's name, which is one."""

    __slots__ = ()
    ONE: ClassVar = {"are": "is", "reach": "reaches", "fall": "falls", "add": "adds",
                     "lose": "loses"}  # fmt: skip

    @property
    def short(self) -> str:
        """Once it is clear what is counted."""
        return self.removesuffix(" cells")

    def verb(self, many: str) -> str:
        """A verb in its number.

        Args:
            many: the verb, as it goes with many.
        """
        return many if self.endswith(" cells") and self[0] != "“" else self.ONE[many]


def names_of(found: Compared, chosen: NDArray[np.bool_]) -> str:
    """Some of the setups by name; by count where they are many.

    Args:
        found: all setups.
        chosen: which are named, shape (setups,).
    """
    count = int(chosen.sum())
    if count == len(found.rigs):
        return "all"
    if min(count, len(found.rigs) - count) > MOST_NAMES:
        return f"{count} of {len(found.rigs)} setups"
    if count > len(found.rigs) / 2:
        return f"all but {listed([found.label(int(k)) for k in np.flatnonzero(~chosen)])}"
    return listed([found.label(int(k)) for k in np.flatnonzero(chosen)])


def listed(words: list[str]) -> str:
    """Words one after another, ``and`` before the last.

    Args:
        words: one or more.
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def pack_names(found: Compared, family: list[int]) -> dict[int, Name]:
    """“13 cells” where counts tell the packs apart, names of setups elsewhere.

    Args:
        found: all setups.
        family: places of those that are named.
    """
    counts = [found.rigs[k].pack.series for k in family]
    if None not in counts and len(set(counts)) == len(counts):
        return {k: Name(f"{count} cells") for k, count in zip(family, counts, strict=True)}
    return {k: Name(found.label(k)) for k in family}


def with_band(found: Compared, k: int) -> tuple[str, bool]:
    """A full pack's top speed to the digits that its band allows, and whether one is told.

    Args:
        found: all setups.
        k: place of the one.
    """
    band = top_speed_band([replace(found.rigs[k], state_of_charge=1.0)])
    value, low, high = (
        found.units.speed(float(x)) for x in (found.full[k], band.low[0], band.high[0])
    )
    said = spanned(value, low, high, found.unit, none=MAY_NOT_START)
    return said, has_band(value, low, high)


def adds(name: Name, found: Compared, full: float, empty: float) -> str:
    """“20 cells add 1 km/h full and 3 nearly empty”.

    Args:
        name: of the pack that adds.
        found: all setups, for their units.
        full: what it adds with a full pack, m/s.
        empty: what it adds nearly empty, m/s.
    """
    gains = [round(found.units.speed(x)) for x in (full, empty)]
    if gains == [0, 0]:
        return f"{name.short} {name.verb('add')} nothing"
    down = max(gains) <= 0
    first, second = ((-g if down else g) for g in gains)
    verb = name.verb("lose" if down else "add")
    return (
        f"{name.short} {verb} {_signed(first)} {found.unit} full and {_signed(second)} nearly empty"
    )


def difference(found: Compared, speed: float) -> str:
    """A difference in speed with its unit.

    Args:
        found: the setups, for their units.
        speed: m/s.
    """
    return f"{_signed(round(found.units.speed(float(speed))))} {found.unit}"


def speed_said(found: Compared, speed: float) -> str:
    """A speed in whole units, the unit left off.

    Args:
        found: the setups, for their units.
        speed: m/s.
    """
    return f"{found.units.speed(float(speed)):z.0f}"


def held_there(words: tuple[str, ...]) -> str:
    """What holds a setup at its top speed, as a clause.

    Args:
        words: what limits; none where only the road does.
    """
    named = [word if word == "voltage" else f"the {word}" for word in words]
    if not named:
        return "the road decides"
    return f"{listed(named)} {'holds' if len(named) == 1 else 'hold'} it there"


def capital(text: str) -> str:
    """A text as a sentence begins.

    Args:
        text: any.
    """
    return text[:1].upper() + text[1:]


def _signed(value: int) -> str:
    return f"{value}".replace("-", "−")
