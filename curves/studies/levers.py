"""What would move it? What a little more of each thing buys at top speed.

Each change is tried: what it buys is the difference of two whole solutions, not a slope.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.steady.balance import balance_speed
from curves.steady.envelope import no_load_speed
from curves.studies.cells import with_series
from curves.studies.common import pick
from curves.units import AS_WRITTEN, KMH, Units


class Lever(NamedTuple):
    """A small change of one thing.

    Attributes:
        name: Of what changes, with its unit.
        step: How much of it, in that unit; below 0 for less.
        change: The change in words, as what a sentence begins with or goes on with.
        of_cells: Whether it is for packs made of cells (True), for those that are a source
            (False) or for all (None).
    """

    name: str
    step: float
    change: str
    of_cells: bool | None = None


VOLT = Lever("pack_v", 1.0, "one more volt", of_cells=False)
CELL = Lever("series_cell", 1.0, "one more cell in series", of_cells=True)
LEVERS = (
    VOLT,
    CELL,
    Lever("pack_a", 1.0, "one more ampere from the pack"),
    Lever("phase_a", 10.0, "10 A more phase current"),
    Lever("weakening_a", 1.0, "one more ampere of field weakening"),
    Lever("w", 100.0, "100 W more"),
    Lever("m2", -0.05, "0.05 m² less drag area"),
    Lever("kg", -10.0, "10 kg less"),
)
"""What can be had more or less of, the electrical first."""
_FIELDS = {
    "pack_v": ("pack.open_circuit_v", "pack.full_charge_v"),
    # What is set and what is rated: the least of them holds, so all must give.
    "pack_a": ("tune.pack_current_a", "controller.max_pack_current_a", "pack.peak_current_a"),
    "phase_a": ("tune.phase_current_a", "controller.max_phase_current_a"),
    "weakening_a": ("tune.field_weakening_a",),
    "w": ("tune.power_cap_w",),
    "m2": ("bike.drag_area_m2",),
    "kg": ("bike.bike_mass_kg",),
}
"""Fields of a stack that a lever moves, all by its step."""
WORTH = 0.05
"""A gain below this, in the unit shown, is not worth a word."""


class Bought(NamedTuple):
    """What a lever buys: its change in words, and the speed gained in the unit asked for."""

    lever: Lever
    gain: float


def tried(rigs: Sequence[Rig], units: Units = AS_WRITTEN) -> tuple[dict[str, float], ...]:
    """Top speed that each lever buys each setup: km/h under the lever's name.

    All changes of all setups are tried in one batch. What then cannot start is at 0 km/h.

    Args:
        rigs: The setups.
        units: For the levers' steps.

    Returns:
        NaN where the setup cannot start, or has nothing of the kind to change.
    """
    levers, base = levers_in(units), stack(rigs)
    count = len(rigs)
    rows = np.tile(np.arange(count), len(levers) + 1)
    many = pick(base, rows)
    changes: dict[str, Array] = {}
    for place, lever in enumerate(levers, start=1):
        at = slice(place * count, (place + 1) * count)
        for name, values in _changed(base, lever).items():
            changes.setdefault(name, np.array(many.values[name]))[at] = values
    batch = many.vary(changes).batch()
    speed = balance_speed(batch, no_load_speed(batch)).speed.reshape(len(levers) + 1, count) / KMH
    gained = np.nan_to_num(speed[1:]) - speed[0]
    able = np.array([_has(base, lever) for lever in levers])
    gained = np.where(able, gained, np.nan)
    return tuple({x.name: float(gained[j, k]) for j, x in enumerate(levers)} for k in range(count))


def _changed(base: Stack, lever: Lever) -> Mapping[str, Array]:
    """Every field of a stack that a lever moves, where it applies."""
    after = (
        with_series(base, base.values["pack.series"] + lever.step).values
        if lever is CELL
        else {name: base.values[name] + lever.step for name in _FIELDS[lever.name]}
    )
    able = _has(base, lever)
    return {
        name: np.where(able, x, base.values[name])
        for name, x in after.items()
        if x is not base.values[name]
    }


def _has(base: Stack, lever: Lever) -> Array:
    """Which setups have enough of what a lever changes, shape (setups,)."""
    if lever.of_cells is not None:
        return np.asarray(np.isfinite(base.values["pack.series"]) == lever.of_cells)
    if lever.name == "kg":
        return np.asarray(base.road().mass + lever.step > 0)
    left = [base.values[name] + lever.step for name in _FIELDS[lever.name]]
    return np.asarray(np.any(np.isfinite(left), axis=0) & ~np.any(np.array(left) < 0, axis=0))


def levers_in(units: Units) -> tuple[Lever, ...]:
    """The levers with steps that are round in the unit of mass that is read.

    Args:
        units: What is read.
    """
    if units.name("kg") == "kg":
        return LEVERS
    *others, lighter = LEVERS
    step, unit = 20.0, units.name("kg")
    return (*others, Lever(lighter.name, -units.typed(step, "kg"), f"{step:g} {unit} less"))


def telling(gained: Sequence[Mapping[str, float]], units: Units = AS_WRITTEN) -> tuple[Lever, ...]:
    """The levers that tell something of one setup or several.

    Args:
        gained: What ``tried`` gives for each.
        units: For the levers' steps.
    """
    return tuple(x for x in levers_in(units) if any(math.isfinite(one[x.name]) for one in gained))


def bought(gained: Mapping[str, float], units: Units = AS_WRITTEN) -> tuple[Bought, ...]:
    """What is worth having a little more or less of at top speed, the most telling first.

    Args:
        gained: What ``tried`` gives for one setup.
        units: Of the gains returned.
    """
    found = [Bought(x, units.change(gained[x.name], "km/h")) for x in telling([gained], units)]
    return tuple(sorted((x for x in found if x.gain >= WORTH), key=lambda x: -x.gain))
