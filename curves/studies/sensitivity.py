"""Measure this next: how far each unsure input moves the top speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.balance import CEILING_WORDS, COASTING, TopSpeed, dragged_force, top_speed
from curves.batch import Batch
from curves.parts.rig import Rig
from curves.point.solve import operating_point
from curves.roots import Array, Index
from curves.stack import stack
from curves.studies.common import pick
from curves.studies.tolerances import Unsure, kept_possible, unsure
from curves.units import KMH

STEP = 1e-3
"""Relative step of an input to either side: its square is the error of the difference."""
SPEED_STEP = 1e-4
MATTERS_KMH = 0.05
"""Nothing worth measuring moves top speed by less than half a tenth of a km/h."""


@dataclass(frozen=True)
class Influence:
    """What one unsure input does to top speed.

    Attributes:
        input: ``part.field``.
        share: Relative standard uncertainty.
        kmh: Change of top speed for one standard uncertainty more of it, km/h, signed.
    """

    input: str
    share: float
    kmh: float


@dataclass(frozen=True)
class Sensitivity:
    """Inputs of one setup by how far they move its top speed.

    Attributes:
        name: The setup.
        influences: The largest first; empty where the bike cannot start or nothing is unsure.
    """

    name: str
    influences: tuple[Influence, ...]

    @property
    def measure_next(self) -> str | None:
        """``part.field`` of the input that moves top speed most; None where none matters."""
        if not self.influences or abs(self.influences[0].kmh) < MATTERS_KMH:
            return None
        return self.influences[0].input

    @property
    def together_kmh(self) -> float:
        """Standard uncertainty of top speed, inputs independent, km/h."""
        return float(np.sqrt(sum(x.kmh**2 for x in self.influences)))


def sensitivity(rigs: Sequence[Rig], top: TopSpeed | None = None) -> tuple[Sensitivity, ...]:
    """How far one standard uncertainty of each unsure input moves top speed.

    Top speed is where force meets load, so its slope over an input is that of the surplus of force
    at the top speed, over the surplus' own slope (the implicit function theorem). Both come from
    central differences, for all inputs of all setups in one batch.

    Args:
        rigs: The setups.
        top: Their top speeds, if they are at hand.
    """
    top = top_speed(rigs) if top is None else top
    moved = [unsure(rig) if top.speed[k] > 0 else {} for k, rig in enumerate(rigs)]
    # Two rows a setup for the slope over speed, then two an input: a little less, a little more.
    pairs: list[tuple[int, Unsure | None]] = [(k, None) for k in range(len(rigs))]
    pairs += [(k, x) for k, inputs in enumerate(moved) for x in inputs.values()]
    rows = np.repeat([k for k, _ in pairs], 2)
    many = pick(stack(rigs), rows)
    sides = np.tile([-1.0, 1.0], len(pairs))
    changes: dict[str, Array] = {}
    for at, (_, x) in enumerate(pairs):
        for field in x.fields if x is not None else ():
            column = changes.setdefault(field, many.values[field].copy())
            column[2 * at : 2 * at + 2] *= 1 + STEP * sides[:2]
    step = np.full(len(pairs), 2 * STEP)
    for field, values in changes.items():
        kept = kept_possible(field, values)
        # What cannot rise any more is only lowered.
        halved = (kept != values).reshape(-1, 2).any(axis=1)
        step[halved] = STEP
        changes[field] = np.where(kept != values, many.values[field], values)
    speed = top.speed[rows]
    speed[: 2 * len(rigs)] *= 1 + SPEED_STEP * sides[: 2 * len(rigs)]
    least, most = _surplus(many.vary(changes).batch(), speed, top, rows).reshape(-1, 2).T
    # Where one side cannot be driven at all, the slope is that of the other: between them is zero.
    least, most = np.where(np.isnan(least), -most, least), np.where(np.isnan(most), -least, most)
    slope = (most - least)[: len(rigs)] / (2 * SPEED_STEP * top.speed)
    falls = np.array([slope[k] for k, x in pairs if x is not None])
    # Where not even speed moves the surplus, nothing tells how far an input moves the speed.
    with np.errstate(divide="ignore", invalid="ignore"):
        moves = (most - least)[len(rigs) :] / step[len(rigs) :] / -falls
    found = iter(np.where(falls < 0, moves, 0.0))
    return tuple(
        Sensitivity(name, _ordered(inputs, [next(found) for _ in inputs]))
        for name, inputs in zip(top.names, moved, strict=True)
    )


def _ordered(inputs: dict[str, Unsure], per_share: list[float]) -> tuple[Influence, ...]:
    each = [
        Influence(name, x.share, float(x.share * moves / KMH) + 0.0)
        for (name, x), moves in zip(inputs.items(), per_share, strict=True)
    ]
    return tuple(sorted(each, key=lambda x: -abs(x.kmh)))


def _surplus(b: Batch, speed: Array, top: TopSpeed, rows: Index) -> Array:
    """What is zero at the top speed of each setup, falling as speed rises; shape (rows,).

    Force to spare; where it rolls faster than it is driven, push to spare; where a ceiling holds
    it, speed to spare.
    """
    v = speed[:, None]
    turns = b.ratio / b.radius
    load = b.road.force(v)
    # Past the motor's own end the rider alone is left.
    force = np.where(top.rim_force[rows, None] > 0, _best_force(b, v, turns), 0.0)
    driven = force + b.road.rider(v) - load
    rolling = -(load + dragged_force(b, v))
    ends = (
        b.speed_cap,
        b.rotor_limit / turns[:, :1],
        b.electrical_limit / (turns[:, :1] * b.drive.pole_pairs),
    )
    below = np.minimum(np.minimum(ends[0], ends[1]), ends[2]) - v
    coasts = np.array([COASTING in words for words in top.limited_by])[rows]
    held = np.array([any(w in CEILING_WORDS for w in words) for words in top.limited_by])[rows]
    return np.where(held, below[:, 0], np.where(coasts, rolling[:, 0], driven[:, 0]))


def _best_force(b: Batch, v: Array, turns: Array) -> Array:
    """Most rim force over the gears, N; below zero where no-load torque is all there is."""
    best = np.full(v.shape, -np.inf)
    for gear in range(turns.shape[1]):
        w = v * turns[:, gear : gear + 1]
        torque = operating_point(b.drive, w).torque
        net = torque - b.drive.no_load_torque - b.drive.no_load_drag * w
        force = net * turns[:, gear : gear + 1] * b.efficiency
        over = (w > b.rotor_limit) | (w * b.drive.pole_pairs > b.electrical_limit)
        barred = (over & (gear > 0)) | np.isnan(force)
        best = np.where(barred, best, np.maximum(best, force))
    return np.where(np.isinf(best), np.nan, best)
