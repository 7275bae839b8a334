"""Where voltage lets go: the least count of cells from which on it does not limit top speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index
from curves.point.solve import voltage_room
from curves.setups.batch import Batch
from curves.setups.stack import Stack
from curves.steady.balance import balance_speed, batch_top_speed
from curves.steady.envelope import draw
from curves.studies.cells import Caps, Hold, with_series
from curves.studies.common import pick, study_root, surplus

UNLIMITED = 1e12
"""A modulation with which no voltage limits."""
JUST = 1e-6
"""Spare volts that count as some."""


@dataclass(frozen=True)
class Knee:
    """Where voltage lets go of top speed; arrays (charges, grades), NaN where not in range.

    Attributes:
        count: Lowest whole count from which on voltage no longer limits top speed.
        exact: The same as a root over a continuous count.
        below: What limits one count lower, words a charge and grade.
        above: What limits at ``count``.
        speed: Top speed at ``count``, m/s.
    """

    count: Array
    exact: Array
    below: tuple[tuple[tuple[str, ...], ...], ...]
    above: tuple[tuple[tuple[str, ...], ...], ...]
    speed: Array


def find_knee(
    base: Stack, series: Sequence[int], hold: Hold, caps: Caps, charges: Array, grades: Array
) -> Knee:
    """Lowest count of ``series`` from which on, to its last, voltage does not limit.

    Args:
        base: One setup whose pack is made of cells.
        series: Whole counts, rising.
        hold: What stays while the count changes.
        caps: What the caps do then.
        charges: States of charge, 0 to 1.
        grades: Slopes, percent.
    """
    first = max(int(series[0]) - 1, 1)
    counts = np.arange(first, int(series[-1]) + 1, dtype=np.float64)
    shape = (charges.size, grades.size, counts.size)
    c, g, n = (x.ravel() for x in np.meshgrid(charges, grades, counts, indexing="ij"))
    every = with_series(base, n, hold=hold, caps=caps, charge=c, grade_percent=g)
    room = _room(every.batch())
    free, dead = (x.reshape(shape) for x in (room >= 0, np.isnan(room)))
    # What cannot start any more, for its weight, takes nothing back; before it starts it does.
    spared = free | (dead & np.logical_or.accumulate(free, axis=-1))
    held = np.arange(counts.size) <= _last(~spared)[..., None]
    free &= ~held
    at = np.argmax(free, axis=-1).ravel()
    # Free already below the range: the count where it began is not in it.
    inside = free.any(axis=-1).ravel() & ((at > 0) | (series[0] == 1))
    position = np.arange(at.size) * counts.size + at
    rows = np.flatnonzero(inside & (at > 0))
    here = position[rows]
    strings = every.values["pack.parallel"][here]

    def spare(count: Array, k: Index) -> Array:
        of = here[k]
        some = with_series(
            base, count, caps=caps, charge=c[of], grade_percent=g[of], strings=strings[k]
        )
        return np.nan_to_num(_room(some.batch()), nan=-1.0)

    exact = np.where(inside, n[position], np.nan)
    if rows.size:
        high, low, each = n[here], n[here] - 1, np.arange(rows.size)
        at_low = spare(low, each)
        at_high = spare(high, each)
        # Where the strings change between the two counts it may begin at the whole count itself.
        root = study_root(spare, low, high, at_low, at_high)
        exact[rows] = np.where(at_low < 0, root, high)
    wide = charges.size, grades.size
    sides = pick(every, np.concatenate((np.maximum(position - 1, 0), position)))
    top = batch_top_speed(sides.batch(), sides.names)
    said = [w if ok else () for w, ok in zip(top.limited_by, (*inside, *inside), strict=True)]
    speed = np.where(inside, top.speed[at.size :], np.nan).reshape(wide)
    count = np.where(inside, n[position], np.nan).reshape(wide)
    below, above = (_nest(x, grades.size) for x in (said[: at.size], said[at.size :]))
    return Knee(count, exact.reshape(wide), below, above, speed)


def _last(true: NDArray[np.bool_]) -> Index:
    """Place of the last that is true along the last axis, -1 for none."""
    size = true.shape[-1]
    back = np.argmax(true[..., ::-1], axis=-1)
    return np.where(true.any(axis=-1), size - 1 - back, -1)


def _nest(words: Sequence[tuple[str, ...]], width: int) -> tuple[tuple[tuple[str, ...], ...], ...]:
    return tuple(tuple(words[k : k + width]) for k in range(0, len(words), width))


def _room(b: Batch) -> Array:
    """Zero or more where voltage does not limit top speed, shape (setups,); V, or share of load.

    NaN where the bike cannot start.

    Top speed is first found as if there were volts without end. If the pack has volts to spare
    there, or the bike reaches a ceiling with force to spare, voltage does not limit. With several
    gears the one in use hangs on the volts, so there the pack's own top speed is looked at.
    """
    d, endless = b.drive, np.full_like(b.speed_cap, np.inf)
    uncapped = b._replace(speed_cap=endless, rotor_limit=endless, electrical_limit=endless)
    free = uncapped._replace(drive=d._replace(modulation=np.full_like(d.modulation, UNLIMITED)))
    unknown = np.full(b.size, np.nan)
    found = balance_speed(free, unknown)
    at, speed = free, found.speed
    if b.ratio.shape[1] > 1:
        at, speed = uncapped, balance_speed(uncapped, unknown).speed
    drawn = draw(at, np.nan_to_num(speed)[:, None])
    volts = voltage_room(d, drawn.rotor_speed)[:, 0]
    # Windings without resistance weaken at no cost: no room, and yet not limited.
    volts = np.where(volts == 0, JUST, volts)
    rotor = b.ratio[:, :1] / b.radius
    ends = (b.speed_cap, b.rotor_limit / rotor, b.electrical_limit / rotor / d.pole_pairs)
    ceiling = np.minimum(np.minimum(ends[0], ends[1]), ends[2])[:, 0]
    has = np.isfinite(ceiling)
    end = np.where(has, ceiling, 0.0)
    load = np.maximum(np.abs(b.road.force(end[:, None])[:, 0]), 1e-9)
    over = np.where(has, surplus(b, end) / load, -np.inf)
    room = np.where(found.coasting, 1.0, np.maximum(over, volts))
    return np.where(np.isnan(speed), np.nan, room)
