"""How unsure each input is: what the job says, or what is usual for a typical value."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from curves.parts.base import Table
from curves.parts.controller import MOST_MODULATION
from curves.parts.notes import USUAL
from curves.parts.rig import Rig
from curves.roots import Array
from curves.stack import PARTS

_INDUCTANCES = ("motor.inductance_d_uh", "motor.inductance_q_uh")
MOVED = {
    # Read with the same meter, so both move alike (and d stays at most q).
    "motor.inductance_d_uh": _INDUCTANCES,
    "motor.inductance_q_uh": _INDUCTANCES,
    "bike.road_load_n": ("bike.f0", "bike.f1", "bike.f2"),
}
"""Fields of a stack that an input moves, where it is not the one of its own name."""
MOST = {
    "motor.gear_efficiency": 1.0,
    "bike.final_drive_efficiency": 1.0,
    "controller.max_modulation": MOST_MODULATION,
}
"""What a field cannot exceed, however unsure it is."""


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
            if share > 0 and getattr(table, field) and not geared:
                fields = MOVED.get(name, (name,))
                same = next((key for key, x in found.items() if x.fields == fields), name)
                found[same] = Unsure(
                    max(share, found[same].share) if same in found else share, fields
                )
    return found


def kept_possible(field: str, values: Array) -> Array:
    """Values of a field no higher than it can be.

    Args:
        field: Its name in a stack.
        values: Of any shape, in its unit.
    """
    return np.minimum(values, MOST[field]) if field in MOST else values
