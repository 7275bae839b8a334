"""“Which pack?” in one sentence: how many cells are enough, and what holds more of them back."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.cautions.stuck import whys_stuck
from curves.digits import BANDS, spanned
from curves.numerics.roots import Array
from curves.parts.base import Table
from curves.parts.goals import Goals
from curves.parts.labels import MAY_NOT_START, NEARLY_EMPTY, on_slope
from curves.parts.rig import Rig
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed
from curves.steady.starting import starts
from curves.studies.helping import Line, helping, own_line, verdict
from curves.studies.spread import top_speed_band
from curves.units import AS_WRITTEN, KMH, Units

STUCK = "cannot start"
MOST_STUCK = 3
"""Reasons for not starting that are told."""
OF_PACK: Final[dict[str, Any]] = {
    "low_voltage_cutoff_v": None,
    "source": None,
    "sources": {},
    "tolerance": {},
}
"""Left out of a tune: its cut-off goes with the cells, so it is the pack's; notes are no values."""
NOTICED = 1.0 * KMH
"""A difference in top speed that a rider notices."""
MOST_OTHERS = 3
"""Setups told of beside the packs that differ in nothing else."""
MOST_NAMES = 12
"""Setups named one after another; more are counted."""
_BANDED = re.compile(rf"±|\((\d\S* to \d|up to \d|from \d|{MAY_NOT_START})")


@dataclass(frozen=True)
class Answer:
    """An answer in words.

    Attributes:
        headline: One sentence with its numbers and band.
        more: What else is worth a sentence, the most telling first.
    """

    headline: str
    more: tuple[str, ...] = ()


class Tops(NamedTuple):
    """Top speeds in m/s, shape (setups,), NaN where it cannot start.

    Attributes:
        full: With a full pack.
        empty: With a pack nearly empty.
        hill: On a hill, NaN where none is asked for.
        words: What limits with a full pack.
    """

    full: Array
    empty: Array
    hill: Array
    words: tuple[tuple[str, ...], ...]


def tops(rigs: Sequence[Rig], hill_percent: float | None) -> Tops:
    """Top speeds that the sentence speaks of, and the table beside it.

    Args:
        rigs: The setups.
        hill_percent: Slope of the hill, %; None for none.
    """
    n = len(rigs)
    asked = [replace(r, state_of_charge=1.0) for r in rigs]
    asked += [replace(r, state_of_charge=NEARLY_EMPTY) for r in rigs]
    if hill_percent is not None:
        asked += [r.on_grade(hill_percent) for r in rigs]
    top = batch_top_speed(stack(asked).batch(), ("",) * len(asked))
    hill = top.speed[2 * n :] if hill_percent is not None else np.full(n, np.nan)
    return Tops(top.speed[:n], top.speed[n : 2 * n], hill, top.limited_by[:n])


@dataclass(frozen=True)
class _Found:
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
        return f"“{self.rigs[k].name}”"


def which_pack(
    rigs: Sequence[Rig],
    goals: Goals | None = None,
    *,
    units: Units = AS_WRITTEN,
    known: Tops | None = None,
    line_of: Callable[[Rig], Line] = own_line,
) -> Answer:
    """Which pack is enough, and what more volts would need to help.

    Packs are compared where nothing else differs: the largest family of setups with the same
    motor, controller, tune and bike. Others are told beside.

    Args:
        rigs: The setups compared.
        goals: What the rider wants, if anything.
        units: For the sentences.
        known: What ``tops`` gives for them and the goals' hill, if it has been asked already.
        line_of: Top speed of a setup over cells in series.
    """
    if not rigs:
        return Answer("No setup is shown.")
    found = _Found(rigs, *(known or tops(rigs, (goals or Goals()).hill_percent)), units=units)
    stuck = _stuck(found)
    if not starts(found.full).any():
        return Answer("None of these setups can start on this road.", stuck)
    family = _family(found)
    alone = len(family) < 2
    about = int(np.nanargmax(found.full)) if alone else _enough(np.nan_to_num(found.full), family)
    line = line_of(rigs[about]) if rigs[about].pack.from_cells else None
    headline = _fastest(found, about) if alone else _of_family(found, family, line)
    more = [*stuck, *_others(found, family), *_goals(found, goals or Goals())]
    if " enough" in headline:
        more.append(_what_for(found))
    if line is not None:
        said = "; ".join(verdict(line, units))
        more.append(f"{found.label(about)} with a full pack of other cells: {said}.")
    return Answer(headline, (*more, *((BANDS,) if _BANDED.search(headline) else ())))


def _stuck(found: _Found) -> tuple[str, ...]:
    """Why setups cannot start with a full pack, one sentence for those that it is the same for."""
    rigs = [replace(rig, state_of_charge=1.0) for rig in found.rigs]
    whose: dict[str, list[str]] = {}
    for k, why in enumerate(whys_stuck(rigs, found.full)):
        if why:
            whose.setdefault(why, []).append(found.label(k))
    said = [f"{_and(names)}: {why}" for why, names in whose.items()]
    rest = len(said) - MOST_STUCK
    return (*said[:MOST_STUCK], *([f"{rest} more cannot start."] if rest > 0 else ()))


def _family(found: _Found) -> list[int]:
    """Setups that start and are alike but for their pack, volts rising: the largest such group."""
    bare = {id(r.tune): r.tune.model_copy(update=OF_PACK) for r in found.rigs}
    told = _told(
        [(r.motor, r.controller, bare[id(r.tune)], r.bike, r.conditions) for r in found.rigs]
    )
    packs = _told([(r.pack,) for r in found.rigs])
    groups: dict[object, list[int]] = {}
    known: set[object] = set()
    for k, rig in enumerate(found.rigs):
        alike = told[k], rig.winding_c
        group = groups.setdefault(alike, [])
        if (alike, packs[k]) not in known and starts(found.full[k]):
            group.append(k)
        known.add((alike, packs[k]))
    best = max(groups.values(), key=len)
    return sorted(best, key=lambda k: found.rigs[k].pack.open_circuit(1.0))


def _told(things: Sequence[tuple[Table, ...]]) -> list[tuple[str, ...]]:
    """Some parts in words, alike where they are equal: quicker to look up than to compare."""
    parts = {id(part): part for some in things for part in some}
    text = {at: part.model_dump_json() for at, part in parts.items()}
    return [tuple(text[id(part)] for part in some) for some in things]


def _of_family(found: _Found, family: list[int], line: Line | None) -> str:
    """The sentence about packs that differ in nothing else.

    ``line`` is that of the pack that is enough.
    """
    full, empty = np.nan_to_num(found.full), np.nan_to_num(found.empty)
    names = _pack_names(found, family)
    lowest, highest = family[0], family[-1]
    enough = _enough(full, family)
    lasting = max(enough, _enough(empty, family), key=family.index)
    if enough == highest:
        top = names[highest]
        said = f"{top} {top.verb('reach')} {_with_band(found, highest)}, "
        said += f"{_difference(found, full[highest] - full[lowest])} more than {names[lowest]}; "
        said += _held(found.words[highest])
        return f"More volts keep helping: {said}." if _helps(found, family, line) else f"{said}."
    given, until = _lever(found, enough)
    low, high = names[enough], names[highest]
    more = _adds(high, found, full[highest] - full[lasting], empty[highest] - empty[lasting])
    if lasting == enough:
        said = f"{given}{low} {low.verb('are')} enough, {_with_band(found, enough)}: {more}{until}."
        return _capital(said)
    lasts = starts(found.empty[enough])
    said = (
        f"{given}{low} {low.verb('are')} enough when full, {_with_band(found, enough)}, and "
        f"{names[lasting].short} when nearly empty, where {low.short} "
        + (f"{low.verb('fall')} to {_speed(found, empty[enough])}" if lasts else STUCK)
    )
    last = f"no pack here adds to that{until}"
    return _capital(f"{said}; {last if lasting == highest else more + until}.")


def _helps(found: _Found, family: list[int], line: Line | None) -> bool:
    """Whether more volts than the highest pack's still help."""
    packs = [found.rigs[k].pack for k in family]
    if line is None:
        return packs[-1].open_circuit(1.0) > packs[-2].open_circuit(1.0)
    stops = helping(line).stops
    return stops is None or line.series[stops] > (packs[-1].series or 0)


def _what_for(found: _Found) -> str:
    """What a pack that is enough is enough for: the same road for all."""
    noticed = f"{found.units.speed(NOTICED):.2g} {found.unit}"
    road = on_slope(found.rigs[0].conditions.grade_percent)
    return f"Enough is for top speed {road}: no other pack here is {noticed} faster."


def _fastest(found: _Found, best: int) -> str:
    is_it = "reaches" if len(found.rigs) == 1 else "is fastest:"
    said = f"{found.label(best)} {is_it} {_with_band(found, best)} full and "
    able = starts(found.empty[best])
    said += f"{_speed(found, found.empty[best]) if able else STUCK} nearly empty; "
    return f"{said}{_held(found.words[best])}."


def _enough(speed: Array, family: list[int]) -> int:
    """The lowest pack that no other of the family beats by what a rider notices."""
    most = max(speed[k] for k in family)
    return next(k for k in family if speed[k] > most - NOTICED)


def _lever(found: _Found, k: int) -> tuple[str, str]:
    """What the family is held by, said before, and what would have to change, said after."""
    rig, words = found.rigs[k], found.words[k]
    if "power cap" in words and rig.tune.power_cap_w is not None:
        return f"with {rig.tune.power_cap_w:z,.0f} W, ", " until the cap is raised"
    if "speed cap" in words and rig.tune.speed_cap_kmh is not None:
        cap = found.units.shown(rig.tune.speed_cap_kmh, "km/h")
        return f"with drive ending at {cap:z.0f} {found.unit}, ", " until that is lifted"
    if "pack current" in words:
        return "with this pack current, ", " until it is raised"
    if "phase current" in words:
        return "with this phase current, ", " until it is raised"
    return "", ""


def _others(found: _Found, family: list[int]) -> list[str]:
    """Setups outside the family, each against the one in it with the same pack, fastest first."""
    if len(family) < 2:
        return []
    packs = _told([(rig.pack,) for rig in found.rigs])
    twins = {packs[j]: j for j in reversed(family)}
    said: list[str] = []
    for k in _falling(found.full):
        twin = twins.get(packs[k])
        if twin is None or twins[packs[k]] == k or len(said) == MOST_OTHERS:
            continue
        full, empty = found.full[k] - found.full[twin], found.empty[k] - found.empty[twin]
        if math.isfinite(full) and math.isfinite(empty):
            said.append(_adds(_Name(found.label(k)), found, float(full), float(empty)))
    return [f"The same pack under another tune: {'; '.join(said)}."] if said else []


def _falling(speed: Array) -> list[int]:
    return [int(k) for k in np.argsort(-np.nan_to_num(speed), kind="stable")]


def _goals(found: _Found, goals: Goals) -> list[str]:
    said = []
    if goals.top_speed_kmh is not None:
        wanted = goals.top_speed_kmh * KMH
        met = found.full >= wanted * (1 - 1e-9)
        last = met & (found.empty >= wanted * (1 - 1e-9))
        goal = f"The goal of {_speed(found, wanted)} {found.unit}"
        if not met.any():
            said.append(f"{goal} is out of reach of all.")
        else:
            kept = "none of them" if not last.any() else _names(found, last)
            said.append(f"{goal} is met full by {_names(found, met)}; nearly empty by {kept}.")
    if goals.hill is not None:
        met = found.hill >= goals.hill.speed_kmh * KMH * (1 - 1e-9)
        hill = f"{goals.hill.grade_percent:g} % at {_speed(found, goals.hill.speed_kmh * KMH)} "
        who = _names(found, met) if met.any() else "none"
        said.append(f"{hill}{found.unit} is held by {who}.")
    return said


def _names(found: _Found, chosen: NDArray[np.bool_]) -> str:
    count = int(chosen.sum())
    if count == len(found.rigs):
        return "all"
    if min(count, len(found.rigs) - count) > MOST_NAMES:
        return f"{count} of {len(found.rigs)} setups"
    if count > len(found.rigs) / 2:
        return f"all but {_and([found.label(int(k)) for k in np.flatnonzero(~chosen)])}"
    return _and([found.label(int(k)) for k in np.flatnonzero(chosen)])


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


class _Name(str):
    """What a pack is called: a count of cells, which is many, or a setup's name, which is one."""

    __slots__ = ()
    ONE: ClassVar = {"are": "is", "reach": "reaches", "fall": "falls", "add": "adds",
                     "lose": "loses"}  # fmt: skip

    @property
    def short(self) -> str:
        """Once it is clear what is counted."""
        return self.removesuffix(" cells")

    def verb(self, many: str) -> str:
        """A verb in its number."""
        return many if self.endswith(" cells") and self[0] != "“" else self.ONE[many]


def _pack_names(found: _Found, family: list[int]) -> dict[int, _Name]:
    """“13 cells” where counts tell the packs apart, names of setups elsewhere."""
    counts = [found.rigs[k].pack.series for k in family]
    if None not in counts and len(set(counts)) == len(counts):
        return {k: _Name(f"{count} cells") for k, count in zip(family, counts, strict=True)}
    return {k: _Name(found.label(k)) for k in family}


def _with_band(found: _Found, k: int) -> str:
    """A full pack's top speed and its band, to the digits that the band allows."""
    band = top_speed_band([replace(found.rigs[k], state_of_charge=1.0)])
    value, low, high = (
        found.units.speed(float(x)) for x in (found.full[k], band.low[0], band.high[0])
    )
    return spanned(value, low, high, found.unit, none=MAY_NOT_START)


def _adds(name: _Name, found: _Found, full: float, empty: float) -> str:
    """“20 cells add 1 km/h full and 3 nearly empty”."""
    gains = [round(found.units.speed(x)) for x in (full, empty)]
    if gains == [0, 0]:
        return f"{name.short} {name.verb('add')} nothing"
    down = max(gains) <= 0
    first, second = ((-g if down else g) for g in gains)
    verb = name.verb("lose" if down else "add")
    return (
        f"{name.short} {verb} {_signed(first)} {found.unit} full and {_signed(second)} nearly empty"
    )


def _signed(value: int) -> str:
    return f"{value}".replace("-", "−")


def _difference(found: _Found, speed: float) -> str:
    return f"{_signed(round(found.units.speed(float(speed))))} {found.unit}"


def _speed(found: _Found, speed: float) -> str:
    return f"{found.units.speed(float(speed)):z.0f}"


def _held(words: tuple[str, ...]) -> str:
    named = [word if word == "voltage" else f"the {word}" for word in words]
    if not named:
        return "the road decides"
    return f"{_and(named)} {'holds' if len(named) == 1 else 'hold'} it there"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
