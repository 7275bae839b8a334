"""How sure a result is, from the tolerances of the inputs.

Each unsure input is moved one standard uncertainty up and down with the others at rest, and the
halves of the differences are added as squares (JCGM 100:2008, section 5.1, independent inputs).
Where that line does not hold, all inputs are moved together along it to the point where one bike
in twenty is worse, or better, and the result is asked there: exact for whatever only bends a line
(first-order reliability, Hasofer and Lind, J. Eng. Mech. Div. ASCE 100(1), 1974, 111-121).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.numerics.normal import BAND
from curves.numerics.roots import Array, Index
from curves.parts.rig import Rig
from curves.setups.batch import Batch
from curves.setups.stack import Stack, stack
from curves.steady.balance import balance_speed
from curves.steady.envelope import no_load_speed
from curves.studies.common import pick
from curves.studies.tolerances import Unsure, kept_possible, moved_by, sampled_at, unsure

BENT = 0.2
"""Share of half a band by which the middle of its sides may lie off the top speed before it counts
as no line: the digit that is shown then stays."""


class Band(NamedTuple):
    """The 5 and 95 % points of results; NaN where one bike in twenty or more has no result.

    Attributes:
        low: Of the results' shape and unit.
        high: The same.
    """

    low: Array
    high: Array

    def half(self, value: Array) -> Array:
        """Half of each value's band, or the side there is; 0 where there is none.

        Args:
            value: The results.
        """
        less, more = value - self.low, self.high - value
        with np.errstate(invalid="ignore"):
            both = (less + more) / 2
        return np.nan_to_num(np.where(np.isfinite(both), both, np.fmax(less, more)))

    @property
    def wide(self) -> bool:
        """Whether anything is unsure."""
        one_side = np.isnan(self.low) != np.isnan(self.high)
        return bool(np.any(one_side | (self.high > self.low)))


class Moves(NamedTuple):
    """Results with one unsure input moved at a time; NaN where that gives none.

    Attributes:
        inputs: What moves, and the place of its setup.
        owners: Those places, shape (inputs,).
        base: As the setups are, shape (setups, ...).
        less: With the input one standard uncertainty lower, shape (inputs, ...).
        more: The same higher.
    """

    inputs: tuple[tuple[int, str, Unsure], ...]
    owners: Index
    base: Array
    less: Array
    more: Array

    def halves(self) -> Array:
        """Change of each result by one standard uncertainty of each input, shape as ``more``.

        Half the difference of both sides; where one has no result, the other's own.
        """
        base = self.base[self.owners]
        with np.errstate(invalid="ignore"):
            both, up, down = (self.more - self.less) / 2, self.more - base, base - self.less
        halves = np.where(np.isfinite(both), both, np.where(np.isfinite(up), up, down))
        return np.where(np.isfinite(halves), halves, 0.0)

    def sigma(self, halves: Array) -> Array:
        """Root of the sum of squares over each setup's inputs, shape as ``base``."""
        return np.asarray(np.sqrt(_sums(halves**2, self.owners, len(self.base))))


def spread(rigs: Sequence[Rig], result: Callable[[Batch], Array]) -> Array:
    """Standard uncertainty of a result of every setup, to first order.

    Args:
        rigs: the setups.
        result: what is asked, of a batch of any size: an array whose first axis is its setups.

    Returns:
        In the unit of the result and of its shape; 0 where no input has a tolerance.
    """
    moved = moves(rigs, lambda setups: result(setups.batch()))
    return moved.sigma(moved.halves())


def stack_band(rigs: Sequence[Rig], result: Callable[[Stack], Array]) -> Band:
    """The 5 and 95 % points of a result of every setup.

    Args:
        rigs: the setups.
        result: what is asked, of a stack of any size: an array whose first axis is its setups;
            NaN or infinite where there is no such thing, as the time to a speed never reached.

    Returns:
        In the unit of the result and of its shape; both NaN where the setup itself has no result.
    """
    moved = moves(rigs, result)
    return _asked_together(rigs, result, moved, np.isfinite(moved.base))


def top_speed_band(rigs: Sequence[Rig]) -> Band:
    """The 5 and 95 % points of every setup's top speed, m/s; low is NaN where it may not start.

    A second call is made only for setups whose top speed bends over the inputs' tolerances.

    Args:
        rigs: the setups.
    """

    def result(setups: Stack) -> Array:
        b = setups.batch()
        found = balance_speed(b, no_load_speed(b))
        return np.stack((found.speed, found.spare), axis=-1)

    both = moves(rigs, result)
    moved, spare = (Moves(both.inputs, both.owners, *(x[:, k] for x in both[2:])) for k in (0, 1))
    made = _asked_together(rigs, lambda s: result(s)[:, 0], moved, _bent(moved))
    # Whether it starts is a line of its own, which may be crossed far from where speed bends.
    stuck = spare.base - BAND * spare.sigma(spare.halves()) <= 0
    return made._replace(low=np.where(stuck, np.nan, made.low))


def moves(rigs: Sequence[Rig], result: Callable[[Stack], Array]) -> Moves:
    """A result of every setup, and with each of its unsure inputs moved, all in one call.

    Args:
        rigs: the setups.
        result: what is asked, of a stack of any size: an array whose first axis is its setups.
    """
    inputs = tuple((k, name, x) for k, rig in enumerate(rigs) for name, x in unsure(rig).items())
    owners = np.array([k for k, _, _ in inputs], dtype=np.intp)
    # Both ways at once: a call costs more than its setups.
    many = pick(stack(rigs), np.concatenate((np.arange(len(rigs)), owners, owners)))
    factors = [
        (len(rigs) + at + side * len(inputs), x, moved_by(x.share, sign))
        for side, sign in enumerate((-1.0, 1.0))
        for at, (_, _, x) in enumerate(inputs)
    ]
    found = result(many.vary(_changed(many, factors)) if factors else many)
    base, less, more = np.split(found, np.cumsum((len(rigs), len(inputs))))
    return Moves(inputs, owners, base, less, more)


def _bent(moved: Moves) -> NDArray[np.bool_]:
    """Which results do not follow a line over their inputs, shape as ``base``."""
    with np.errstate(invalid="ignore"):
        off = (moved.more + moved.less) / 2 - moved.base[moved.owners]
    gone = np.zeros(moved.base.shape, dtype=np.bool_)
    np.logical_or.at(gone, moved.owners, ~np.isfinite(off))
    middle = moved.sigma(np.where(np.isfinite(off), off, 0.0))
    bent = gone | (middle > BENT * moved.sigma(moved.halves()))
    return np.asarray(bent & np.isfinite(moved.base))


def _asked_together(
    rigs: Sequence[Rig],
    result: Callable[[Stack], Array],
    moved: Moves,
    asked: NDArray[np.bool_],
) -> Band:
    """Bands from the line, and from all inputs moved together where that is asked for."""
    halves = moved.halves()
    half = BAND * moved.sigma(halves)
    ends = np.stack((moved.base - half, moved.base + half))
    shape, count = ends.shape, len(moved.inputs)
    ends, asked = ends.reshape(2, len(rigs), -1), asked.reshape(len(rigs), -1)
    halves = np.where(halves == 0, _stopped(moved), halves).reshape(count, ends.shape[2])
    length = np.sqrt(_sums(halves**2, moved.owners, len(rigs)))
    setups, places = np.nonzero(asked & (length > 0))
    if setups.size:
        many = pick(stack(rigs), np.tile(setups, 2))
        factors = [
            (row + side * setups.size, x, float(sampled_at(x.share, sign * BAND * along)))
            for row, (setup, place) in enumerate(zip(setups, places, strict=True))
            for at in np.flatnonzero(moved.owners == setup)
            for x, along in [(moved.inputs[at][2], halves[at, place] / length[setup, place])]
            for side, sign in enumerate((-1.0, 1.0))
        ]
        found = result(many.vary(_changed(many, factors))).reshape(2, setups.size, -1)
        ends[:, setups, places] = found[:, np.arange(setups.size), places]
    low, high = np.where(np.isfinite(ends), ends, np.nan).reshape(shape)
    return Band(np.minimum(low, moved.base), np.maximum(high, moved.base))


def _sums(x: Array, owners: Index, count: int) -> Array:
    """Sums over each setup's inputs, shape (setups, ...)."""
    sums = np.zeros((count, *x.shape[1:]))
    np.add.at(sums, owners, x)
    return sums


def _stopped(moved: Moves) -> Array:
    """Direction of what changes nothing on one side and has no result on the other."""
    gone = [(~np.isfinite(x)).astype(np.float64) for x in (moved.less, moved.more)]
    return np.asarray((gone[0] - gone[1]) * np.abs(moved.base[moved.owners]))


def _changed(many: Stack, factors: Sequence[tuple[int, Unsure, float]]) -> Mapping[str, Array]:
    """Every field that moves: row, input and factor of each move."""
    changed: dict[str, Array] = {}
    for row, x, factor in factors:
        for name in x.fields:
            column = changed.setdefault(name, many.start(name))
            column[row] = many.values[name][row] * factor
    return {name: kept_possible(name, column) for name, column in changed.items()}
