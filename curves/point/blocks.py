"""Batches of any shape, worked through in blocks that stay in the processor's cache."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index
from curves.pace import tell
from curves.point.limits import Drive

BLOCK = 65536
MANY = 2
"""Blocks past which starting threads pays."""


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
    rows, columns = int(np.prod(shape[:-1], dtype=np.int64)), shape[-1]
    planes = [_plane(x, shape) for x in (*d[:-2], *arrays)]
    tables = [_plane(x, shape, 1) for x in d[-2:]]
    wide = min(columns, BLOCK)
    tall = max(1, BLOCK // wide)

    def cut(x: Array, r: slice, c: slice, size: tuple[int, int]) -> Array:
        x = x[r if x.shape[0] > 1 else slice(None), c if x.shape[1] > 1 else slice(None)]
        return np.broadcast_to(x, (*size, *x.shape[2:])).reshape((-1, *x.shape[2:]))

    def values(r: slice, c: slice) -> tuple[tuple[int, int], tuple[NDArray[Any], ...]]:
        size = (r.stop - r.start, c.stop - c.start)
        flat = [cut(x, r, c, size) for x in planes]
        block = Drive(*flat[: len(d) - 2], *(cut(x, r, c, size) for x in tables))
        return size, kernel(block, *flat[len(d) - 2 :])

    places = [
        (slice(top, min(top + tall, rows)), slice(left, min(left + wide, columns)))
        for top in range(0, rows, tall)
        for left in range(0, columns, wide)
    ]
    size, first = values(*places[0])
    out = [np.empty((rows, columns, *v.shape[1:]), dtype=v.dtype) for v in first]

    def store(place: tuple[slice, slice]) -> None:
        size, block = values(*place)
        for whole, v in zip(out, block, strict=True):
            whole[place] = v.reshape((*size, *v.shape[1:]))

    for whole, v in zip(out, first, strict=True):
        whole[places[0]] = v.reshape((*size, *v.shape[1:]))
    # NumPy lets go of the interpreter inside its loops, so threads share the blocks well.
    if len(places) > MANY:
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            for k, _ in enumerate(pool.map(store, places[1:])):
                tell("blocks of points", k + 2, len(places))
    else:
        for place in places[1:]:
            store(place)
    return tuple(x.reshape((*shape, *x.shape[2:])) for x in out)


def _plane(x: Array, shape: tuple[int, ...], tail: int = 0) -> Array:
    """A view of ``x`` with two axes, one long where it may, and its own last ``tail`` axes."""
    x = np.asarray(x, dtype=np.float64)
    own = x.shape[x.ndim - tail :]
    body = x.shape[: x.ndim - tail]
    width = body[-1] if body else 1
    if all(n == 1 for n in body[:-1]):
        return x.reshape((1, width, *own))
    return np.broadcast_to(x, (*shape[:-1], width, *own)).reshape((-1, width, *own))


def _spread(d: Drive, arrays: tuple[Array, ...], shape: tuple[int, ...]) -> list[Any]:
    """One block for everything: faster than views for the few points of a root search."""
    n = int(np.prod(shape, dtype=np.int64))
    flat = np.empty((len(d) - 2 + len(arrays), *shape))
    for row, x in zip(flat, (*d[:-2], *arrays), strict=True):
        row[...] = x
    whole = flat.reshape(len(flat), n)
    tables = (np.broadcast_to(x, (*shape, x.shape[-1])).reshape(n, x.shape[-1]) for x in d[-2:])
    return [Drive(*whole[: len(d) - 2], *tables), *whole[len(d) - 2 :]]


def pick(d: Drive, at: Index) -> Drive:
    """The drives at some positions of a flat block."""
    return Drive(*(x[at] for x in d))
