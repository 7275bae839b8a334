"""Any two inputs against any result, with what limits top speed as regions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.balance import batch_top_speed
from curves.parts.rig import Rig
from curves.roots import Array
from curves.stack import stack
from curves.studies.cells import Hold, checked_fields, with_inputs
from curves.studies.results import results_of


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
        region: Which of ``limits`` holds top speed there; -1 where the bike cannot start.
        limits: The combinations of limits that occur, as words.
    """

    name: str
    x_name: str
    y_name: str
    x: Array
    y: Array
    results: Mapping[str, Array]
    region: NDArray[np.intp]
    limits: tuple[tuple[str, ...], ...]


def result_map(
    rig: Rig,
    x: tuple[str, Sequence[float]],
    y: tuple[str, Sequence[float]],
    results: Sequence[str] = ("top_speed_kmh",),
    *,
    hold: Hold = "strings",
) -> ResultMap:
    """Results of a setup over a grid of two of its inputs.

    Args:
        rig: The setup.
        x: A field such as ``tune.pack_current_a`` and its values, in the job file's unit.
        y: Another field and its values.
        results: Names that ``results.result`` knows.
        hold: What stays where ``pack.series`` is one of the fields; the rest of the pack follows.

    Raises:
        JobError: for a field or result that does not exist, or the same field twice.
    """
    base = stack([rig])
    checked_fields(base, (x[0], y[0]))
    xs, ys = (np.asarray(values, dtype=np.float64) for values in (x[1], y[1]))
    across, up = (grid.ravel() for grid in np.meshgrid(xs, ys))
    setups = with_inputs(base, {x[0]: across, y[0]: up}, hold=hold)
    shape = (ys.size, xs.size)
    values = results_of(setups, results)
    words = batch_top_speed(setups.batch(), setups.names).limited_by
    limits = tuple(sorted({w for w in words if w}))
    place = {w: k for k, w in enumerate(limits)}
    return ResultMap(
        name=rig.name,
        x_name=x[0],
        y_name=y[0],
        x=xs,
        y=ys,
        results={name: values[:, k].reshape(shape) for k, name in enumerate(results)},
        region=np.array([place.get(w, -1) for w in words], dtype=np.intp).reshape(shape),
        limits=limits,
    )
