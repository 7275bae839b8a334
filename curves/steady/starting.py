"""Whether a bike starts, in one place: everything that says “cannot start” asks here.

At rest the force at the rim must be above the load. Where no current within all limits turns the
motor there is no force. The rider's watts help from 1 m/s on, so they have no say in it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numpy.typing import NDArray

from curves.numerics.roots import Array
from curves.point.gains import gains
from curves.setups.batch import Batch
from curves.steady.envelope import draw, words


class Rest(NamedTuple):
    """Forces at rest, N, shape (setups,).

    Attributes:
        force: At the rim; NaN where no current within all limits turns the motor.
        load: What the road asks.
    """

    force: Array
    load: Array

    @property
    def surplus(self) -> Array:
        """Force above load, N: a bike starts where it is above 0."""
        return np.nan_to_num(self.force) - self.load

    @property
    def starts(self) -> NDArray[np.bool_]:
        """Whether each setup starts; a cap may hold one that does at 0 all the same."""
        return self.surplus > 0


def at_rest(b: Batch) -> Rest:
    """The forces that decide whether each setup of a batch starts."""
    zero = np.zeros((b.size, 1))
    return Rest(draw(b, zero).rim_force[:, 0], b.road.force(zero)[:, 0])


def held_at_rest(b: Batch) -> tuple[tuple[str, ...], ...]:
    """The words of what limits the force at rest, one tuple a setup."""
    drawn = draw(b, np.zeros((b.size, 1)))
    limited = gains(b.drive, drawn.rotor_speed, drawn.point).limited[:, 0]
    none = np.zeros((b.size, 3), dtype=bool)
    return tuple(tuple(words(row)) for row in np.concatenate((limited, none), axis=1))


def starts(top_speed: npt.ArrayLike) -> NDArray[np.bool_]:
    """Whether setups start, from their top speeds: a bike that does not has none.

    Args:
        top_speed: As ``top_speed`` or ``balance_speed`` find it, any unit and shape.
    """
    return ~np.isnan(np.asarray(top_speed, dtype=np.float64))
