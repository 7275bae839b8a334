"""Measure this next: how far each unsure input moves the top speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.stack import Stack
from curves.steady.balance import balance_speed
from curves.steady.envelope import no_load_speed
from curves.studies.spread import moves
from curves.units import KMH

MATTERS_KMH = 0.05
"""Nothing worth measuring moves top speed by less than half a tenth of a km/h."""


@dataclass(frozen=True)
class Influence:
    """What one unsure input does to top speed, tried on both sides.

    Attributes:
        input: ``part.field``.
        share: Relative standard uncertainty.
        less_kmh: Change of top speed with the input one standard uncertainty lower, km/h; what
            then cannot start is at 0.
        more_kmh: The same with it higher.
    """

    input: str
    share: float
    less_kmh: float
    more_kmh: float

    @property
    def kmh(self) -> float:
        """Change of top speed for one standard uncertainty more of it, the mean of both sides."""
        return (self.more_kmh - self.less_kmh) / 2 + 0.0


@dataclass(frozen=True)
class Sensitivity:
    """Inputs of one setup by how far they move its top speed.

    Attributes:
        name: The setup.
        top_kmh: Its top speed, km/h; NaN where it cannot start.
        influences: The largest first; empty where the bike cannot start or nothing is unsure.
    """

    name: str
    top_kmh: float
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


def sensitivity(rigs: Sequence[Rig]) -> tuple[Sensitivity, ...]:
    """How far one standard uncertainty of each unsure input moves top speed.

    Each is tried on both sides with the others at rest, for all setups in one batch.

    Args:
        rigs: The setups.
    """

    def speed(setups: Stack) -> Array:
        b = setups.batch()
        return balance_speed(b, no_load_speed(b)).speed / KMH

    found = moves(rigs, speed)
    top = found.base
    less, more = (np.nan_to_num(x) - np.nan_to_num(top)[found.owners] for x in found[3:])
    each: list[list[Influence]] = [[] for _ in rigs]
    for (k, name, x), down, up in zip(found.inputs, less, more, strict=True):
        if top[k] > 0:
            each[k].append(Influence(name, x.share, float(down), float(up)))
    return tuple(
        Sensitivity(rig.name, float(speed), tuple(sorted(some, key=lambda x: -abs(x.kmh))))
        for rig, speed, some in zip(rigs, top, each, strict=True)
    )
