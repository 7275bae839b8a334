"""Batches of any shape, worked through in blocks that stay in the processor's cache."""

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curves.point.limits import Drive
from curves.roots import Array, Index

BLOCK = 8192


def in_blocks(
    kernel: Callable[..., tuple[NDArray[Any], ...]], d: Drive, *arrays: Array
) -> tuple[NDArray[Any], ...]:
    """Call ``kernel`` on flat blocks of a broadcast drive and arrays such as rotor speed.

    Args:
        kernel: Takes a drive with fields of shape (n,) (derating fields (n, k)) and the arrays,
            each (n,); returns arrays whose first axis is n. Called once even where n is zero.
        d: The drive; fields broadcast against each other and the arrays.
        arrays: Rotor speed and what else the kernel takes, of any shape that broadcasts.

    Returns:
        The arrays, in the broadcast shape (with any further axes of the kernel's at the end).
    """
    flat = d._replace(derating_a=d.derating_a[..., 0], derating=d.derating[..., 0])
    shape = np.broadcast_shapes(*(np.shape(x) for x in (*arrays, *flat)))
    if int(np.prod(shape, dtype=np.int64)) <= BLOCK:
        small = kernel(*_spread(d, arrays, shape))
        return tuple(x.reshape((*shape, *x.shape[1:])) for x in small)
    columns = shape[-1] if shape else 1
    rows = int(np.prod(shape[:-1], dtype=np.int64)) if shape else 1
    lead = shape[:-1]

    def plane(x: Array, tail: int = 0) -> Array:
        x = np.asarray(x, dtype=np.float64)
        own = x.shape[x.ndim - tail :]
        body = x.shape[: x.ndim - tail]
        width = body[-1] if body else 1
        if all(n == 1 for n in body[:-1]):
            return x.reshape((1, width, *own))
        return np.broadcast_to(x, (*lead, width, *own)).reshape((rows, width, *own))

    fields = [plane(x) for x in d[:-2]]
    tables = [plane(x, 1) for x in d[-2:]]
    planes = [plane(x) for x in arrays]
    out: list[NDArray[Any]] | None = None
    wide = min(columns, BLOCK)
    tall = max(1, BLOCK // max(wide, 1))

    def cut(x: Array, r: slice, c: slice, size: tuple[int, int]) -> Array:
        x = x[r if x.shape[0] > 1 else slice(None), c if x.shape[1] > 1 else slice(None)]
        return np.broadcast_to(x, (*size, *x.shape[2:])).reshape((-1, *x.shape[2:]))

    for top in range(0, max(rows, 1), tall):
        for left in range(0, max(columns, 1), max(wide, 1)):
            r, c = slice(top, min(top + tall, rows)), slice(left, min(left + wide, columns))
            size = (r.stop - r.start, c.stop - c.start)
            block = Drive(*(cut(x, r, c, size) for x in fields + tables))
            values = kernel(block, *(cut(x, r, c, size) for x in planes))
            if out is None:
                out = [np.empty((rows, columns, *v.shape[1:]), dtype=v.dtype) for v in values]
            for whole, v in zip(out, values, strict=True):
                whole[r, c] = v.reshape((*size, *v.shape[1:]))
    assert out is not None
    return tuple(x.reshape((*shape, *x.shape[2:])) for x in out)


def _spread(d: Drive, arrays: tuple[Array, ...], shape: tuple[int, ...]) -> list[Any]:
    """One block for everything: faster than views for the few points of a root search."""
    n = int(np.prod(shape, dtype=np.int64))
    flat = np.empty((len(d) - 2 + len(arrays), *shape))
    for row, x in zip(flat, (*d[:-2], *arrays), strict=True):
        row[...] = x
    whole = flat.reshape(len(flat), n)
    tables = (np.broadcast_to(x, (*shape, x.shape[-1])).reshape(n, -1) for x in d[-2:])
    return [Drive(*whole[: len(d) - 2], *tables), *whole[len(d) - 2 :]]


def pick(d: Drive, at: Index) -> Drive:
    """The drives at some positions of a flat block."""
    return Drive(*(x[at] for x in d))
