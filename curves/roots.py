"""Bracketed roots of many functions at once."""

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Index: TypeAlias = NDArray[np.intp]


def bracketed_root(
    f: Callable[[Array, Index], Array],
    low: Array,
    high: Array,
    f_low: Array,
    f_high: Array,
    *,
    relative: float = 4e-16,
    iterations: int = 200,
) -> Array:
    """Root of ``f`` in each bracket, by Chandrupatla's method.

    Args:
        f: Called with trial points, shape (k,), and the positions of those points in the
            original arrays, shape (k,); returns values, shape (k,). Infinite values are allowed.
        low: One end of each bracket, shape (n,), any unit.
        high: The other end, shape (n,), same unit.
        f_low: Values at ``low``, shape (n,).
        f_high: Values at ``high``, shape (n,), of the other sign. Where both signs agree the end
            with the smaller magnitude is returned.
        relative: Width at which a bracket counts as closed, relative to its root.
        iterations: The most steps taken; bisection alone needs about 60.

    Returns:
        The end of the closed bracket on which ``f`` has the sign of ``f_low`` (the safe side when
        ``f`` is a margin), shape (n,).

    Source: T. R. Chandrupatla, Advances in Engineering Software 28(3), 1997, 145-149.
    """
    keep = np.copy(low)
    same = np.sign(f_low) * np.sign(f_high) > 0
    keep[same & (np.abs(f_high) < np.abs(f_low))] = high[same & (np.abs(f_high) < np.abs(f_low))]
    keep[f_high == 0] = high[f_high == 0]
    keep[f_low == 0] = low[f_low == 0]
    at = np.flatnonzero(~same & (f_low != 0) & (f_high != 0))
    a, fa, b, fb = high[at], f_high[at], low[at], f_low[at]
    side = np.sign(fb)
    a0, fa0 = np.copy(a), np.copy(fa)
    step = np.full(at.size, 0.5)
    for _ in range(iterations):
        if not at.size:
            break
        x = a + step * (b - a)
        fx = f(x, at)
        swap = np.sign(fx) == np.sign(fa)
        a0, fa0 = np.where(swap, a, b), np.where(swap, fa, fb)
        b, fb = np.where(swap, b, a), np.where(swap, fb, fa)
        a, fa = x, fx
        best = np.where(np.abs(fa) < np.abs(fb), a, b)
        width = np.abs(b - a)
        tolerance = relative * np.abs(best) + 1e-300
        ratio = tolerance / np.maximum(width, 1e-300)
        done = (ratio > 0.5) | (fa == 0)
        if done.any():
            inside = np.where((np.sign(fa) == side) | (fa == 0), a, b)
            keep[at[done]] = inside[done]
            go = ~done
            at, side, step, ratio = at[go], side[go], step[go], ratio[go]
            a, fa, b, fb, a0, fa0 = a[go], fa[go], b[go], fb[go], a0[go], fa0[go]
            if not at.size:
                break
        with np.errstate(all="ignore"):
            xi = (a - b) / (a0 - b)
            phi = (fa - fb) / (fa0 - fb)
            quadratic = (phi * phi < xi) & ((1 - phi) * (1 - phi) < 1 - xi)
            inverse = fa / (fb - fa) * (fa0 / (fb - fa0)) + (a0 - a) / (b - a) * (
                fa / (fa0 - fa)
            ) * (fb / (fa0 - fb))
        quadratic &= np.isfinite(inverse)
        step = np.where(quadratic, inverse, 0.5)
        step = np.clip(step, np.minimum(ratio, 0.5), np.maximum(1 - ratio, 0.5))
    else:
        keep[at] = np.where(np.sign(fa) == side, a, b)
    return keep
