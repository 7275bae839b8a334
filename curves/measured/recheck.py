"""A few typed numbers against a setup's bands: agree or not, and the likeliest suspects in order.

To first order: every input is moved by its standard uncertainty, and the suspect is the one whose
move, alone and at its price in likelihood, makes most of the mismatch go away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.measured.suspects import Suspect, moves_of, slopes_of, suspects_of
from curves.measured.typed import METERS, WORDS, Typed, asked_of, predictions
from curves.numerics.normal import BAND
from curves.parts.rig import Rig
from curves.setups.stack import stack


@dataclass(frozen=True)
class Check:
    """One typed number beside its prediction.

    Attributes:
        quantity: Its name in ``Typed``.
        title: For people.
        unit: For people.
        measured: As typed.
        predicted: Of the job; NaN where it predicts none.
        low: Lower end of the prediction's band, 5 %.
        high: Upper end, 95 %.
        agrees: Whether they agree, the meter's own uncertainty included.
    """

    quantity: str
    title: str
    unit: str
    measured: float
    predicted: float
    low: float
    high: float
    agrees: bool

    @property
    def verdict(self) -> str:
        """Agrees or not, in words."""
        if np.isnan(self.predicted):
            return "not predicted"
        return "agrees" if self.agrees else "does not agree"


@dataclass(frozen=True)
class Recheck:
    """What a few typed numbers say of a setup.

    Attributes:
        checks: Each number beside its prediction.
        suspects: The likeliest first; none where all agree.
    """

    checks: tuple[Check, ...]
    suspects: tuple[Suspect, ...]


def recheck(rig: Rig, typed: Typed) -> Recheck:
    """Typed numbers against a setup's bands.

    Args:
        rig: the setup.
        typed: what was read.

    Raises:
        JobError: if nothing was typed, or a number that means nothing alone.
    """
    asked = asked_of(typed)
    read = np.array([getattr(typed, name) for name in asked], dtype=np.float64)
    meter = np.array(
        [METERS[name][0] * abs(x) + METERS[name][1] for name, x in zip(asked, read, strict=True)]
    )
    moves = moves_of(rig)
    base = stack([rig])
    predicted = predictions(base, typed, asked)[0]
    per_sigma = slopes_of(base, moves, typed, asked)
    told = np.array([move.told for move in moves], dtype=np.bool_)
    spread = np.sqrt(np.sum(per_sigma[told] ** 2, axis=0))
    off = read - predicted
    agrees = np.abs(off) <= BAND * np.hypot(spread, meter)
    checks = tuple(
        Check(
            name,
            *WORDS[name],
            float(read[k]),
            float(predicted[k]),
            _least(name, float(predicted[k] - BAND * spread[k])),
            float(predicted[k] + BAND * spread[k]),
            bool(agrees[k]),
        )
        for k, name in enumerate(asked)
    )
    known = np.isfinite(off)
    suspects = (
        ()
        if agrees[known].all()
        else suspects_of(moves, per_sigma[:, known], off[known], meter[known])
    )
    return Recheck(checks, suspects)


def _least(name: str, value: float) -> float:
    """The low end of a band: no bike is slower than one that cannot start."""
    return max(value, 0.0) if name == "top_speed_kmh" else value
