"""How unsure each input is: what the job says, or what is usual for a typical value."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from curves.numerics.normal import BAND
from curves.numerics.roots import Array
from curves.parts.base import Table
from curves.parts.notes import USUAL
from curves.parts.rig import Rig
from curves.setups.stack import PARTS
from curves.studies.common import bounds_of

_INDUCTANCES = ("motor.inductance_d_uh", "motor.inductance_q_uh")
_FOLDBACK = ("controller.foldback_start_v", "controller.foldback_end_v")
MOVED = {
    # Read with the same meter, so both move alike (and d stays at most q).
    "motor.inductance_d_uh": _INDUCTANCES,
    "motor.inductance_q_uh": _INDUCTANCES,
    # The same controller measures both, and the start stays above the end.
    "controller.foldback_start_v": _FOLDBACK,
    "controller.foldback_end_v": _FOLDBACK,
    "bike.road_load_n": ("bike.f0", "bike.f1", "bike.f2"),
}
"""Fields of a stack that an input moves, where it is not the one of its own name."""


class Unsure(NamedTuple):
    """An unsure input: its relative standard uncertainty, and the fields of a stack it moves."""

    share: float
    fields: tuple[str, ...]


def tolerance_of(table: Table, part: str, field: str) -> float:
    """Relative standard uncertainty of one field.

    Args:
        table: The part.
        part: Its kind, ``motor`` and so on.
        field: The field's name.

    Returns:
        What the job says; for a typical value without one what is usual; otherwise 0.
    """
    if field in table.tolerance:
        return table.tolerance[field]
    typical = table.source_kind(field) == "typical"
    return USUAL.get(f"{part}.{field}", 0.0) if typical else 0.0


def unsure(rig: Rig) -> dict[str, Unsure]:
    """Every input of a setup that has a tolerance, under ``part.field``.

    Args:
        rig: The setup.
    """
    found: dict[str, Unsure] = {}
    for part in PARTS:
        table: Table = getattr(rig, part)
        for field in type(table).model_fields:
            name = f"{part}.{field}"
            share = tolerance_of(table, part, field)
            # Moving the one ratio would move every gear of a bike that has several.
            geared = name == "bike.final_drive_ratio" and len(rig.bike.ratios) > 1
            value = getattr(table, field)
            # Of the lists, only a road load has a number in a stack for each of its items.
            moves = isinstance(value, int | float) or name in MOVED
            if share > 0 and value and moves and not geared:
                fields = MOVED.get(name, (name,))
                same = next((key for key, x in found.items() if x.fields == fields), name)
                found[same] = Unsure(
                    max(share, found[same].share) if same in found else share, fields
                )
    return found


def moved_by(share: float, sign: float) -> float:
    """What an input is multiplied by to move it one standard uncertainty.

    A large share is lowered no further than the input's own 5 % point, so that nothing real comes
    near to none.

    Args:
        share: Relative standard uncertainty.
        sign: 1 to raise it, -1 to lower it.
    """
    return max(1 + sign * share, float(sampled_at(share, -BAND)))


def sampled_at(share: float, normal: Array | float) -> Array:
    """What an input is multiplied by at a place of its lognormal distribution.

    Its median is the value as it stands, and nothing turns negative.

    Args:
        share: Relative standard uncertainty.
        normal: The place, as of a standard normal number.
    """
    return np.asarray(np.exp(np.sqrt(np.log1p(share**2)) * normal))


def kept_possible(field: str, values: Array) -> Array:
    """Values of a field within what the job file allows.

    Args:
        field: Its name in a stack.
        values: Of any shape, in its unit; NaN stays.
    """
    bounds = bounds_of(field)
    return values if bounds is None else np.clip(values, *bounds)
