"""Top speeds of setups with a full pack, a nearly empty one and on a hill."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from curves.numerics.roots import Array
from curves.parts.labels import NEARLY_EMPTY
from curves.parts.rig import Rig
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed


class Tops(NamedTuple):
    """Top speeds in m/s, shape (setups,), NaN where it cannot start.

    Attributes:
        full: With a full pack.
        empty: With a pack nearly empty.
        hill: On a hill, NaN where none is asked for.
        words: What limits with a full pack.
    """

    full: Array
    empty: Array
    hill: Array
    words: tuple[tuple[str, ...], ...]


def tops(rigs: Sequence[Rig], hill_percent: float | None) -> Tops:
    """Top speeds of every setup, in one batch.

    Args:
        rigs: The setups.
        hill_percent: Slope of the hill, %; None for none.
    """
    n = len(rigs)
    asked = [replace(r, state_of_charge=1.0) for r in rigs]
    asked += [replace(r, state_of_charge=NEARLY_EMPTY) for r in rigs]
    if hill_percent is not None:
        asked += [r.on_grade(hill_percent) for r in rigs]
    top = batch_top_speed(stack(asked).batch(), ("",) * len(asked))
    hill = top.speed[2 * n :] if hill_percent is not None else np.full(n, np.nan)
    return Tops(top.speed[:n], top.speed[n : 2 * n], hill, top.limited_by[:n])
