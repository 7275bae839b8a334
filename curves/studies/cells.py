"""A pack of another count: what follows from the number of cells in series."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Literal, TypeAlias

import numpy as np

from curves.errors import JobError, Problem
from curves.numerics.roots import Array
from curves.parts.recount import following
from curves.setups.stack import Stack
from curves.studies.common import bounds_of

Hold: TypeAlias = Literal["strings", "cells", "energy"]
"""What stays while the count changes: parallel strings; about the number of cells, in whole
strings; or energy, with strings of whatever capacity that takes."""
Caps: TypeAlias = Literal["present", "grown", "same power"]
"""The power cap and the pack current: as they are; so many watts a cell and amperes a string; or
the watts kept and the amperes in inverse proportion to the volts."""


def with_series(
    base: Stack,
    count: Array,
    *,
    hold: Hold = "strings",
    caps: Caps = "present",
    charge: Array | None = None,
    grade_percent: Array | None = None,
    strings: Array | None = None,
) -> Stack:
    """A setup with other numbers of cells in series and all that follows from them.

    Args:
        base: One setup, or as many as there are counts, with packs made of cells.
        count: Cells in series, shape (n,); need not be whole.
        hold: What stays.
        caps: What the power cap and the tune's pack current do.
        charge: State of charge, shape (n,).
        grade_percent: Slope, shape (n,).
        strings: Parallel strings where they are known already, shape (n,).
    """
    value = base.values
    taller = count / value["pack.series"]
    if strings is None:
        strings = _strings(base, count, hold)
    wider = strings / value["pack.parallel"]
    changes = {
        "pack.series": count,
        "pack.parallel": strings,
        **following(value, taller, wider),
    }
    if caps == "grown":
        changes["tune.power_cap_w"] = value["tune.power_cap_w"] * taller * wider
        changes["tune.pack_current_a"] = value["tune.pack_current_a"] * wider
    elif caps == "same power":
        changes["tune.pack_current_a"] = value["tune.pack_current_a"] / taller
    if charge is not None:
        changes["setup.state_of_charge"] = charge
    if grade_percent is not None:
        changes["conditions.grade_percent"] = grade_percent
    return base.vary(changes)


def _strings(base: Stack, count: Array, hold: Hold) -> Array:
    strings = base.values["pack.parallel"]
    if hold == "strings":
        return np.broadcast_to(strings, count.shape)
    held: Array = base.values["pack.series"] * strings / count
    return np.maximum(np.round(held), 1.0) if hold == "cells" else held


def with_inputs(
    base: Stack, changes: Mapping[str, Array], *, hold: Hold = "strings", caps: Caps = "present"
) -> Stack:
    """A setup with some of its inputs changed, and with its pack following its count of cells.

    Args:
        base: One setup.
        changes: Field to values in the job file's unit, shape (n,). What is changed by name is
            not overridden by what follows from ``pack.series``.
        hold: What stays while ``pack.series`` changes.
        caps: What the caps do then.
    """
    changes = dict(changes)
    count = changes.pop("pack.series", None)
    if count is not None:
        strings = changes.get("pack.parallel")
        base = with_series(base, count, hold=hold, caps=caps, strings=strings)
    elif "pack.parallel" in changes:
        # Strings alone: mass, price and current ratings go with them.
        series = np.broadcast_to(base.values["pack.series"], changes["pack.parallel"].shape)
        base = with_series(base, series, caps=caps, strings=changes["pack.parallel"])
    return base.vary(changes) if changes else base


def numbers_changed(
    base: Stack, changes: Mapping[str, float], *, hold: Hold = "strings", caps: Caps = "present"
) -> dict[str, float]:
    """Every number of a setup that changes with some of its inputs, as a job file would state it.

    Args:
        base: One setup.
        changes: Field to value in the job file's unit.
        hold: What stays while ``pack.series`` changes.
        caps: What the caps do then.

    Returns:
        Field to value. Strings are whole: a share of one becomes cells of another capacity.
    """
    arrays = {name: np.array([value]) for name, value in changes.items()}
    after = with_inputs(base, arrays, hold=hold, caps=caps).values
    strings, whole = float(after["pack.parallel"][0]), float(base.values["pack.parallel"][0])
    if strings != round(strings):
        after = {
            **after,
            "pack.parallel": base.values["pack.parallel"],
            "pack.cell_capacity_ah": after["pack.cell_capacity_ah"] * strings / whole,
            "pack.cell_resistance_mohm": after["pack.cell_resistance_mohm"] * whole / strings,
        }
    return {
        name: float(x[0])
        for name, x in after.items()
        if not np.array_equal(x, base.values[name], equal_nan=True)
    }


def checked_fields(base: Stack, fields: Sequence[str]) -> None:
    """Refuse fields that cannot be changed.

    Raises:
        JobError: for a name that is no number of a setup, twice the same, or cells of a pack that
            has none.
    """
    for k, field in enumerate(fields):
        if field in fields[:k]:
            raise JobError([Problem("inputs", field, "is named twice")])
        if field not in base.values:
            near = difflib.get_close_matches(field, base.values, n=1)
            meant = f": did you mean {near[0]}?" if near else "; part.field such as pack.series"
            raise JobError([Problem("inputs", field, f"no setup has such a number{meant}")])
        cells = field in ("pack.series", "pack.parallel")
        if cells and np.isnan(base.values["pack.series"]).any():
            raise JobError([Problem("inputs", field, "the setup's pack is a source")])


def value_problem(field: str, values: Sequence[float]) -> str:
    """What is wrong with values for a field, empty for nothing.

    Args:
        field: ``part.field`` of a stack.
        values: In the job file's unit.
    """
    if not len(values) or any(b <= a for a, b in pairwise(values)):
        return "must be one or more rising values"
    bounds = bounds_of(field)
    if bounds is None:
        return "cannot be varied by itself"
    if values[0] < bounds[0]:
        return f"must be at least {bounds[0]:g}"
    if values[-1] > bounds[1]:
        return f"must be at most {bounds[1]:g}"
    # Strings and cells are counted, whatever holds them; so are poles.
    whole = field.partition(".")[2] in ("series", "parallel", "pole_pairs")
    if whole and any(v != int(v) for v in values):
        return "must be whole numbers"
    return ""
