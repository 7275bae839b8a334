"""Which packs are compared, and the lowest that is enough."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from curves.numerics.roots import Array
from curves.parts.base import Table
from curves.parts.rig import Rig
from curves.steady.starting import starts
from curves.units import KMH

OF_PACK: Final[dict[str, Any]] = {
    "low_voltage_cutoff_v": None,
    "source": None,
    "sources": {},
    "tolerance": {},
}
"""Left out of a tune: its cut-off goes with the cells, so it is the pack's; notes are no values."""
NOTICED = 1.0 * KMH
"""A difference in top speed that a rider notices."""


def family_of(rigs: Sequence[Rig], full: Array) -> list[int]:
    """Setups that start and are alike but for their pack, volts rising: the largest such group.

    Args:
        rigs: The setups.
        full: Top speed of each with a full pack, m/s, shape (setups,); NaN where it cannot start.

    Returns:
        Their places.
    """
    bare = {id(r.tune): r.tune.model_copy(update=OF_PACK) for r in rigs}
    told = as_text([(r.motor, r.controller, bare[id(r.tune)], r.bike, r.conditions) for r in rigs])
    packs = as_text([(r.pack,) for r in rigs])
    groups: dict[object, list[int]] = {}
    known: set[object] = set()
    for k, rig in enumerate(rigs):
        alike = told[k], rig.winding_c
        group = groups.setdefault(alike, [])
        if (alike, packs[k]) not in known and starts(full[k]):
            group.append(k)
        known.add((alike, packs[k]))
    best = max(groups.values(), key=len)
    return sorted(best, key=lambda k: rigs[k].pack.open_circuit(1.0))


def as_text(things: Sequence[tuple[Table, ...]]) -> list[tuple[str, ...]]:
    """Some parts as text, alike where they are equal: quicker to look up than to compare.

    Args:
        things: Some parts of each setup.
    """
    parts = {id(part): part for some in things for part in some}
    text = {at: part.model_dump_json() for at, part in parts.items()}
    return [tuple(text[id(part)] for part in some) for some in things]


def enough_of(speed: Array, family: list[int]) -> int:
    """The lowest pack that no other of the family beats by what a rider notices.

    Args:
        speed: Top speed, m/s, shape (setups,); 0 where it cannot start.
        family: Places of the setups that are compared, volts rising.
    """
    most = max(speed[k] for k in family)
    return next(k for k in family if speed[k] > most - NOTICED)
