"""Bands, odds and shares of the setups on the page: asks ``curves``, keeps what it answered."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from curves import Rig
from curves.studies.bands import Bands, Shares, bands, shares
from curves.units import KMH
from dashboard.answers.setups import (
    Comparison,
    Reading,
    key_of,
    known,
    remembered,
    remembered_together,
)
from dashboard.answers.study_options import TARGETS
from dashboard.widgets.progress import Task

SPEEDS = 41
"""Road speeds at which bands of force are drawn."""


def banded(compared: Comparison, count: int) -> Bands | None:
    """Bands of the setups shown, or None where they have still to be worked out."""
    rigs = [r.rig for r in compared.shown]
    found = known(_bands_kind(rigs, count), rigs[:1])
    return found[0] if found else None


def shared(reading: Reading | None, count: int) -> Shares | None:
    """Where the spread of a setup's top speed comes from, or None where not known yet."""
    found = None if reading is None else known(_shares_kind(count), [reading.rig])
    return found[0] if found else None


def work(compared: Comparison, reading: Reading | None, count: int, task: Task) -> None:
    """Work both out."""
    rigs = [r.rig for r in compared.shown]
    if not rigs:
        return
    last = max(r.curve.end for r in compared.shown) * KMH
    speeds = np.linspace(0.0, last, SPEEDS).tolist()
    remembered_together(
        _bands_kind(rigs, count),
        rigs[:1],
        lambda _: [bands(rigs, speeds=speeds, targets=TARGETS, count=count, progress=task.told)],
    )
    if reading is not None:
        remembered(
            _shares_kind(count),
            [reading.rig],
            lambda rig: shares(rig, count=count, progress=task.told),
        )


def _bands_kind(rigs: Sequence[Rig], count: int) -> str:
    """Setups are sampled together, so their bands are an answer of all of them."""
    return f"bands {count} {[(rig.name, *key_of(rig)) for rig in rigs]}"


def _shares_kind(count: int) -> str:
    return f"shares {count}"
