"""Any two inputs against any result, with what limits top speed as regions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.steady.balance import batch_top_speed
from curves.studies.cells import Hold, checked_fields, with_inputs
from curves.studies.common import Progress, pick, quietly
from curves.studies.results import results_of

PIECE = 256
"""Setups worked out at a time."""


@dataclass(frozen=True)
class ResultMap:
    """Results over two inputs; arrays of shape (y values, x values).

    Attributes:
        name: The setup.
        x_name: Field along x, ``part.field``.
        y_name: Field along y.
        x: Its values in the unit of the job file, shape (x values,).
        y: The same along y.
        results: Each result by its name, in the unit its name carries; NaN where none.
        own: The setup's own values of the two fields; NaN where not given.
        own_results: Its own results by name.
        region: Which of ``limits`` holds top speed there; -1 where the bike cannot start.
        limits: The combinations of limits that occur, as words.
    """

    name: str
    x_name: str
    y_name: str
    x: Array
    y: Array
    results: Mapping[str, Array]
    own: tuple[float, float]
    own_results: Mapping[str, float]
    region: NDArray[np.intp]
    limits: tuple[tuple[str, ...], ...]


def result_map(
    rig: Rig,
    x: tuple[str, Sequence[float]],
    y: tuple[str, Sequence[float]],
    results: Sequence[str] = ("top_speed_kmh",),
    *,
    hold: Hold = "strings",
    progress: Progress = quietly,
) -> ResultMap:
    """Results of a setup over a grid of two of its inputs.

    Args:
        rig: The setup.
        x: A field such as ``tune.pack_current_a`` and its values, in the job file's unit.
        y: Another field and its values.
        results: Names that ``results.result`` knows.
        hold: What stays where ``pack.series`` is one of the fields; the rest of the pack follows.
        progress: Told setups done and how many there are; what it raises ends the map.

    Raises:
        JobError: for a field or result that does not exist, or the same field twice.
    """
    base = stack([rig])
    checked_fields(base, (x[0], y[0]))
    xs, ys = (np.asarray(values, dtype=np.float64) for values in (x[1], y[1]))
    across, up = (grid.ravel() for grid in np.meshgrid(xs, ys))
    own = float(base.values[x[0]][0]), float(base.values[y[0]][0])
    # The setup itself comes last.
    changes = {x[0]: np.append(across, own[0]), y[0]: np.append(up, own[1])}
    setups = with_inputs(base, changes, hold=hold)
    values, words = _in_pieces(setups, results, progress)
    shape = (ys.size, xs.size)
    limits = tuple(sorted({w for w in words[:-1] if w}))
    place = {w: k for k, w in enumerate(limits)}
    return ResultMap(
        name=rig.name,
        x_name=x[0],
        y_name=y[0],
        x=xs,
        y=ys,
        results={name: values[:-1, k].reshape(shape) for k, name in enumerate(results)},
        own=own,
        own_results=dict(zip(results, values[-1].tolist(), strict=True)),
        region=np.array([place.get(w, -1) for w in words[:-1]], dtype=np.intp).reshape(shape),
        limits=limits,
    )


def _in_pieces(
    setups: Stack, results: Sequence[str], progress: Progress
) -> tuple[Array, list[tuple[str, ...]]]:
    """Results and limits of setups, a piece at a time so that it can be told and ended."""
    size = len(setups.names)
    values: list[Array] = []
    words: list[tuple[str, ...]] = []
    for start in range(0, size, PIECE):
        progress(start, size)
        some = pick(setups, np.arange(start, min(start + PIECE, size)))
        values.append(results_of(some, results))
        words += batch_top_speed(some.batch(), some.names).limited_by
    return np.concatenate(values), words
