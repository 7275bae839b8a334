"""“Which pack?” in one sentence: how many cells are enough, and what holds more of them back."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from curves.cautions.stuck import whys_stuck
from curves.numerics.roots import Array
from curves.parts.goals import Goals
from curves.parts.labels import on_slope
from curves.parts.rig import Rig
from curves.steady.starting import starts
from curves.studies.enough import NOTICED, as_text, enough_of, family_of
from curves.studies.helping import Line, helping, own_line
from curves.studies.tops import Tops, tops
from curves.units import AS_WRITTEN, KMH, Units
from curves.words.compared import (
    Compared,
    Name,
    adds,
    capital,
    difference,
    held_there,
    listed,
    names_of,
    pack_names,
    speed_said,
    with_band,
)
from curves.words.digits import BANDS
from curves.words.more_cells import verdict

STUCK = "cannot start"
MOST_STUCK = 3
"""Reasons for not starting that are told."""
MOST_OTHERS = 3
"""Setups told of beside the packs that differ in nothing else."""


@dataclass(frozen=True)
class Answer:
    """An answer in words.

    Attributes:
        headline: One sentence with its numbers and band.
        more: What else is worth a sentence, the most telling first.
    """

    headline: str
    more: tuple[str, ...] = ()


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
    found = Compared(rigs, *(known or tops(rigs, (goals or Goals()).hill_percent)), units=units)
    stuck = _stuck(found)
    if not starts(found.full).any():
        return Answer("None of these setups can start on this road.", stuck)
    family = family_of(found.rigs, found.full)
    alone = len(family) < 2
    about = int(np.nanargmax(found.full)) if alone else enough_of(np.nan_to_num(found.full), family)
    line = line_of(rigs[about]) if rigs[about].pack.from_cells else None
    said = _fastest(found, about) if alone else _of_family(found, family, line)
    more = [*stuck, *_others(found, family), *_goals(found, goals or Goals())]
    if said.is_enough:
        more.append(_what_for(found))
    if line is not None:
        cells = "; ".join(verdict(line, units))
        more.append(f"{found.label(about)} with a full pack of other cells: {cells}.")
    return Answer(said.sentence, (*more, *((BANDS,) if said.has_band else ())))


class _Headline(NamedTuple):
    """A sentence, whether it tells a band, and whether it calls a pack enough."""

    sentence: str
    has_band: bool
    is_enough: bool


def _stuck(found: Compared) -> tuple[str, ...]:
    """Why setups cannot start with a full pack, one sentence for those that it is the same for."""
    rigs = [replace(rig, state_of_charge=1.0) for rig in found.rigs]
    whose: dict[str, list[str]] = {}
    for k, why in enumerate(whys_stuck(rigs, found.full)):
        if why:
            whose.setdefault(why, []).append(found.label(k))
    said = [f"{listed(names)}: {why}" for why, names in whose.items()]
    rest = len(said) - MOST_STUCK
    return (*said[:MOST_STUCK], *([f"{rest} more cannot start."] if rest > 0 else ()))


def _of_family(found: Compared, family: list[int], line: Line | None) -> _Headline:
    """The sentence about packs that differ in nothing else.

    ``line`` is that of the pack that is enough.
    """
    full, empty = np.nan_to_num(found.full), np.nan_to_num(found.empty)
    names = pack_names(found, family)
    lowest, highest = family[0], family[-1]
    enough = enough_of(full, family)
    lasting = max(enough, enough_of(empty, family), key=family.index)
    reached, has_band = with_band(found, enough)
    if enough == highest:
        top = names[highest]
        said = f"{top} {top.verb('reach')} {reached}, "
        said += f"{difference(found, full[highest] - full[lowest])} more than {names[lowest]}; "
        said += held_there(found.words[highest])
        said = f"More volts keep helping: {said}." if _helps(found, family, line) else f"{said}."
        return _Headline(said, has_band, is_enough=False)
    given, until = _lever(found, enough)
    low, high = names[enough], names[highest]
    more = adds(high, found, full[highest] - full[lasting], empty[highest] - empty[lasting])
    if lasting == enough:
        said = f"{given}{low} {low.verb('are')} enough, {reached}: {more}{until}."
        return _Headline(capital(said), has_band, is_enough=True)
    lasts = starts(found.empty[enough])
    said = (
        f"{given}{low} {low.verb('are')} enough when full, {reached}, and "
        f"{names[lasting].short} when nearly empty, where {low.short} "
        + (f"{low.verb('fall')} to {speed_said(found, empty[enough])}" if lasts else STUCK)
    )
    last = f"no pack here adds to that{until}"
    said = capital(f"{said}; {last if lasting == highest else more + until}.")
    return _Headline(said, has_band, is_enough=True)


def _helps(found: Compared, family: list[int], line: Line | None) -> bool:
    """Whether more volts than the highest pack's still help."""
    packs = [found.rigs[k].pack for k in family]
    if line is None:
        return packs[-1].open_circuit(1.0) > packs[-2].open_circuit(1.0)
    stops = helping(line).stops
    return stops is None or line.series[stops] > (packs[-1].series or 0)


def _what_for(found: Compared) -> str:
    """What a pack that is enough is enough for: the same road for all."""
    noticed = f"{found.units.speed(NOTICED):.2g} {found.unit}"
    road = on_slope(found.rigs[0].conditions.grade_percent)
    return f"Enough is for top speed {road}: no other pack here is {noticed} faster."


def _fastest(found: Compared, best: int) -> _Headline:
    is_it = "reaches" if len(found.rigs) == 1 else "is fastest:"
    reached, has_band = with_band(found, best)
    said = f"{found.label(best)} {is_it} {reached} full and "
    able = starts(found.empty[best])
    said += f"{speed_said(found, found.empty[best]) if able else STUCK} nearly empty; "
    return _Headline(f"{said}{held_there(found.words[best])}.", has_band, is_enough=False)


def _lever(found: Compared, k: int) -> tuple[str, str]:
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


def _others(found: Compared, family: list[int]) -> list[str]:
    """Setups outside the family, each against the one in it with the same pack, fastest first."""
    if len(family) < 2:
        return []
    packs = as_text([(rig.pack,) for rig in found.rigs])
    twins = {packs[j]: j for j in reversed(family)}
    said: list[str] = []
    for k in _falling(found.full):
        twin = twins.get(packs[k])
        if twin is None or twins[packs[k]] == k or len(said) == MOST_OTHERS:
            continue
        full, empty = found.full[k] - found.full[twin], found.empty[k] - found.empty[twin]
        if math.isfinite(full) and math.isfinite(empty):
            said.append(adds(Name(found.label(k)), found, float(full), float(empty)))
    return [f"The same pack under another tune: {'; '.join(said)}."] if said else []


def _falling(speed: Array) -> list[int]:
    return [int(k) for k in np.argsort(-np.nan_to_num(speed), kind="stable")]


def _goals(found: Compared, goals: Goals) -> list[str]:
    said = []
    if goals.top_speed_kmh is not None:
        wanted = goals.top_speed_kmh * KMH
        met = found.full >= wanted * (1 - 1e-9)
        last = met & (found.empty >= wanted * (1 - 1e-9))
        goal = f"The goal of {speed_said(found, wanted)} {found.unit}"
        if not met.any():
            said.append(f"{goal} is out of reach of all.")
        else:
            kept = "none of them" if not last.any() else names_of(found, last)
            said.append(f"{goal} is met full by {names_of(found, met)}; nearly empty by {kept}.")
    if goals.hill is not None:
        met = found.hill >= goals.hill.speed_kmh * KMH * (1 - 1e-9)
        hill = f"{goals.hill.grade_percent:g} % at {speed_said(found, goals.hill.speed_kmh * KMH)} "
        who = names_of(found, met) if met.any() else "none"
        said.append(f"{hill}{found.unit} is held by {who}.")
    return said
