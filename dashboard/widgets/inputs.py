"""The numbers of a setup that a study can vary: their names, units, bounds and a usual range."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from curves import Rig
from curves.parts.labels import label_of
from curves.studies.cells import value_problem
from curves.units import Units
from dashboard.answers.setups import Comparison
from dashboard.widgets.fields import limits

PARTS = ("pack", "tune", "motor", "controller", "bike", "conditions")
WIDEST = 2.0
"""A usual range goes from a part of what there is now to as many times it."""
USUAL = {
    "tune.field_weakening_a": (0.0, 60.0),
    "tune.regen_pack_current_a": (0.0, 20.0),
    "bike.load_kg": (0.0, 80.0),
    "bike.rider_power_w": (0.0, 250.0),
    "conditions.grade_percent": (0.0, 12.0),
    "conditions.headwind_kmh": (-20.0, 20.0),
    "conditions.altitude_m": (0.0, 2500.0),
    "conditions.air_c": (-10.0, 35.0),
}
"""Ranges where none follows from what there is now."""


@dataclass(frozen=True)
class Input:
    """A number of a setup.

    Attributes:
        name: ``part.field``.
        label: As people read it, with its part.
        unit: Its unit.
        value: Now.
        least: The lowest it may be.
        most: The highest.
        whole: Whether it is counted.
    """

    name: str
    label: str
    unit: str
    value: float
    least: float
    most: float
    whole: bool

    def titled(self, units: Units) -> str:
        """Its label and the unit it is read in."""
        return f"{self.label}, {units.name(self.unit)}" if self.unit else self.label

    @property
    def usual(self) -> tuple[float, float]:
        """A range about what it is now."""
        low, high = USUAL.get(self.name, sorted((self.value / WIDEST, self.value * WIDEST)))
        short = round if self.whole else _short
        return max(short(low), self.least), min(short(high), self.most)

    def values(self, low: float, high: float, count: int) -> tuple[float, ...]:
        """Even values from one end to the other; whole ones where it is counted."""
        if not self.whole:
            return tuple(np.linspace(low, high, count).tolist())
        return tuple(np.unique(np.round(np.linspace(low, high, count))).tolist())

    def problem(self, low: float, high: float) -> str:
        """What is wrong with a range, empty for nothing."""
        if not low < high:
            return "must rise"
        if low < self.least or high > self.most:
            return f"must be within {self.least:g} and {self.most:g} {self.unit}".rstrip()
        return ""


def inputs_of(rig: Rig) -> dict[str, Input]:
    """Every number of a setup that can be varied, by its name."""
    found = {}
    for part in PARTS:
        table = getattr(rig, part)
        for field, info in type(table).model_fields.items():
            name, value = f"{part}.{field}", getattr(table, field)
            if isinstance(value, bool) or not isinstance(value, int | float):
                continue
            if value_problem(name, [value]) or (value == 0 and name not in USUAL):
                continue
            found[name] = _input(name, info, float(value), rig)
    return found


def _input(name: str, info: Any, value: float, rig: Rig) -> Input:
    field = name.partition(".")[2]
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    least, most = limits(info)
    # The least inductance over a turn never passes the most.
    if field == "inductance_d_uh":
        most = rig.motor.inductance_q_uh
    if field == "inductance_q_uh":
        least = rig.motor.inductance_d_uh
    whole = field in ("series", "parallel", "pole_pairs")
    return Input(name, label_of(name), str(extra.get("unit", "")), value, least, most, whole)


def _short(value: float) -> float:
    return float(f"{value:.4g}")


def shared_inputs(compared: Comparison) -> dict[str, Input]:
    """What every setup shown can vary, with the first one's values."""
    every = [inputs_of(r.rig) for r in compared.shown]
    first = every[0] if every else {}
    return {name: one for name, one in first.items() if all(name in other for other in every)}
