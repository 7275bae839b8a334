"""Inputs of a setup that may be wrong, by how much likelier their move makes what was read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from curves.measured.typed import Typed, predictions
from curves.numerics.roots import Array
from curves.parts.base import Table
from curves.parts.labels import label_of
from curves.parts.notes import USUAL
from curves.parts.rig import Rig
from curves.parts.setup import Setup
from curves.setups.stack import Stack, stack
from curves.studies.tolerances import kept_possible, moved_by, unsure

ABSOLUTE: Final[Mapping[str, tuple[float, float, float]]] = {
    "setup.state_of_charge": (0.05, 0.0, 1.0),
    "conditions.headwind_kmh": (4.0, -100.0, 100.0),
    "conditions.grade_percent": (0.3, -50.0, 50.0),
}
"""Suspects whose uncertainty is no share of them: standard uncertainty, least and most
(common practice)."""
STILL: Final = 1e-6
"""Share of its meter's uncertainty by which an input must move a number to count."""
WORTH: Final = 0.2
"""Share of the mismatch that a suspect must explain."""
MOST: Final = 5
"""Suspects that are named."""


@dataclass(frozen=True)
class Suspect:
    """An input that may be wrong.

    Attributes:
        field: Of the stack.
        name: The input, behind its table and a dot; for people ``title``.
        unit: For people.
        value: In the job.
        needed: What it would have to be, alone, to fit best.
        sigmas: By how many of its standard uncertainties that is off.
        explains: Share of the mismatch that goes away with it, 0 to 1.
    """

    field: str
    name: str
    unit: str
    value: float
    needed: float
    sigmas: float
    explains: float

    @property
    def title(self) -> str:
        """For people."""
        return label_of(self.name)


@dataclass(frozen=True)
class Move:
    """An input and what one standard uncertainty of it is, in its unit."""

    fields: tuple[str, ...]
    name: str
    unit: str
    value: float
    sigma: float
    told: bool


def moves_of(rig: Rig) -> list[Move]:
    """Every input that may be wrong: those with a tolerance, and those that usually have one."""
    base = stack([rig]).values
    found: dict[tuple[str, ...], Move] = {}

    def add(fields: tuple[str, ...], name: str, sigma: float, *, told: bool) -> None:
        value = float(base[fields[0]][0])
        found[fields] = Move(fields, name, _unit(rig, name), value, sigma, told)

    for name, one in unsure(rig).items():
        add(one.fields, name, one.share * abs(float(base[one.fields[0]][0])), told=True)
    taken = {field for fields in found for field in fields}
    for name, share in USUAL.items():
        value = float(base[name][0]) if name in base else np.nan
        if name not in taken and np.isfinite(value) and value != 0:
            add((name,), name, share * abs(value), told=False)
    for name, (sigma, _, _) in ABSOLUTE.items():
        add((name,), name, sigma, told=False)
    return list(found.values())


def _unit(rig: Rig, name: str) -> str:
    """The unit of an input, as its model says."""
    part, _, field = name.partition(".")
    model: type[Table] = Setup if part == "setup" else type(getattr(rig, part))
    extra = model.model_fields[field].json_schema_extra
    return str(extra.get("unit", "")) if isinstance(extra, dict) else ""


def slopes_of(base: Stack, moves: list[Move], typed: Typed, asked: tuple[str, ...]) -> Array:
    """Change of each prediction by one standard uncertainty of each input, (inputs, asked)."""
    sides = []
    spans = np.zeros((2, len(moves)))
    for side, sign in enumerate((1.0, -1.0)):
        values: dict[str, Array] = {}
        for row, move in enumerate(moves):
            for field in move.fields:
                start = float(base.values[field][0])
                column = values.setdefault(field, np.full(len(moves), start))
                share = move.sigma / abs(move.value) if move.value else 0.0
                to = start + sign * move.sigma
                to = to if field in ABSOLUTE else start * moved_by(share, sign)
                column[row] = _possible(field, to)
                if field == move.fields[0]:
                    spans[side, row] = abs(column[row] - start) / move.sigma
        sides.append(predictions(base.vary(values), typed, asked))
    here = predictions(base, typed, asked)
    up, down, both = (np.maximum(x, 1e-9)[:, None] for x in (*spans, spans.sum(axis=0)))
    # A side on which the bike cannot start is not nothing: the other tells then.
    slope = (sides[0] - sides[1]) / both
    one = np.where(np.isfinite(sides[0]), (sides[0] - here) / up, (here - sides[1]) / down)
    return np.asarray(np.nan_to_num(np.where(np.isfinite(slope), slope, one)))


def _possible(field: str, value: float) -> float:
    if field in ABSOLUTE:
        return float(np.clip(value, *ABSOLUTE[field][1:]))
    return float(kept_possible(field, np.array(value)))


def _is_possible(move: Move, value: float) -> bool:
    """Whether an input could be so: within its bounds, and what has a share keeps its sign."""
    field = move.fields[0]
    return _possible(field, value) == value and (field in ABSOLUTE or value * move.value > 0)


def suspects_of(moves: list[Move], slopes: Array, off: Array, meter: Array) -> tuple[Suspect, ...]:
    """Each input alone, by how much likelier its best move makes what was read."""
    scaled, wrong = slopes / meter, off / meter
    before = float(wrong @ wrong)
    weight = np.sum(scaled**2, axis=1)
    along = scaled @ wrong
    moved = weight > STILL**2
    sigmas = np.where(moved, along / np.where(moved, weight, 1.0), 0.0)
    # One standard uncertainty of its own costs as much as one of a meter.
    gain = along**2 / (1 + weight)
    explains = np.where(moved, along**2 / np.where(moved, weight, 1.0), 0.0) / before
    needed = [move.value + s * move.sigma for move, s in zip(moves, sigmas.tolist(), strict=True)]
    possible = [_is_possible(move, x) for move, x in zip(moves, needed, strict=True)]
    order: NDArray[np.intp] = np.argsort(np.where(possible, -gain, np.inf))
    return tuple(
        Suspect(
            field=moves[k].fields[0],
            name=moves[k].name,
            unit=moves[k].unit,
            value=moves[k].value,
            needed=needed[k],
            sigmas=float(sigmas[k]),
            explains=float(explains[k]),
        )
        for k in order[:MOST]
        if explains[k] >= WORTH and possible[k]
    )
