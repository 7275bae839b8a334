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
    enough: float = 0.0,
    iterations: int = 200,
) -> Array:
    """Root of ``f`` in each bracket: regula falsi after Anderson and Bjoerck, kept from stalling.

    Where three steps have not halved a bracket, the next step is its middle; so any function that
    changes sign is closed in on, however bent or broken.

    Args:
        f: Called with trial points, shape (k,), and the positions of those points in the
            original arrays, shape (k,); returns values, shape (k,). The positions are the same
            array object from call to call for as long as they stay the same.
        low: One end of each bracket, shape (n,), any unit.
        high: The other end, shape (n,), same unit.
        f_low: Values at ``low``, shape (n,).
        f_high: Values at ``high``, shape (n,), of the other sign. Where both signs agree the end
            with the smaller magnitude is returned.
        enough: A value of ``f`` that counts as zero.
        iterations: The most steps taken.

    Returns:
        Where ``f`` is zero to within ``enough`` or rounding; at a jump, the side on which ``f`` has
        the sign of ``f_low``. Shape (n,).

    Source: N. Anderson, A. Bjoerck, BIT 13, 1973, 253-264.
    """
    same = np.sign(f_low) * np.sign(f_high) > 0
    result = np.where(same & (np.abs(f_high) < np.abs(f_low)), high, low)
    result = np.where((f_high == 0) & (f_low != 0), high, result)
    at = np.flatnonzero(~same & (f_low != 0) & (f_high != 0))
    if not at.size:
        return result
    a, fa, b, fb = low[at], f_low[at], high[at], f_high[at]
    safe, side = np.copy(a), fa > 0
    width = np.abs(b - a)
    with np.errstate(all="ignore"):
        for step in range(iterations):
            x = b - fb * ((b - a) / (fb - fa))
            if step % 3 == 2:
                now = np.abs(b - a)
                x = np.where(now > 0.5 * width, 0.5 * (a + b), x)
                width = now
            # A step too short to tell goes just past, so that the bracket closes from both sides;
            # what infinite values spoil is mended by halving.
            near = 4.5e-16 * np.abs(b) + 1e-300
            x = np.where(np.abs(x - b) < near, b + np.copysign(near, a - b), x)
            x = np.where((x - a) * (x - b) <= 0, x, 0.5 * (a + b))
            fx = f(x, at)
            stays = (fx > 0) == (fb > 0)
            bent = 1.0 - fx / fb
            fa = np.where(stays, fa * np.where(bent > 0, bent, 0.5), fb)
            a = np.where(stays, a, b)
            b, fb = x, fx
            safe = np.where((fx > 0) == side, x, safe)
            zero = np.abs(fx) <= enough
            done = zero | (np.abs(b - a) <= 2 * near)
            count = np.count_nonzero(done)
            # A few finished rows cost less than another round of copies.
            if count == at.size or count > 0.2 * at.size:
                result[at[done]] = np.where(zero, x, safe)[done]
                if count == at.size:
                    return result
                go = ~done
                at, a, fa, b, fb = at[go], a[go], fa[go], b[go], fb[go]
                safe, side, width = safe[go], side[go], width[go]
    result[at] = safe
    return result


FEW = 64
"""Brackets up to which a call costs about the same for one point of each as for twenty."""
_UNIFORM = np.linspace(0.0, 1.0, 11)[1:-1]
_CLOSE = np.array([-1e-3, -1e-6, -1e-9, 0.0, 1e-9, 1e-6, 1e-3])


def costly_root(
    f: Callable[[Array, Index], Array], low: Array, high: Array, f_low: Array, f_high: Array
) -> Array:
    """As ``bracketed_root``, for functions whose cost is in the call and not in its points.

    A few brackets are cut by many points a call, most of them about where a straight line puts the
    root; many brackets go to ``bracketed_root``.

    Args:
        f: Called with points, shape (k, m), and the positions of the k brackets; returns (k, m).
        low: The end from which the first change of sign counts, shape (n,).
        high: The other end, shape (n,).
        f_low: Values at ``low``, shape (n,), of order 1.
        f_high: Values at ``high``, shape (n,).

    Returns:
        The roots, to a few parts in 1e14, shape (n,).
    """

    def single(x: Array, at: Index) -> Array:
        return f(x[:, None], at)[:, 0]

    if low.size > FEW:
        return bracketed_root(single, low, high, f_low, f_high, enough=1e-14)
    result = bracketed_root(single, low, high, f_low, f_high, iterations=0)
    at = np.flatnonzero((np.sign(f_low) * np.sign(f_high) < 0) & np.isfinite(low + high))
    x = np.stack((low[at], high[at]), axis=1)
    fx = np.stack((f_low[at], f_high[at]), axis=1)
    guess = _straight(x, fx)
    for _ in range(40):
        if not at.size:
            break
        a, width = x[:, :1], x[:, -1:] - x[:, :1]
        inner = np.concatenate((a + width * _UNIFORM, guess[:, None] + width * _CLOSE), axis=1)
        inner = np.sort(np.clip(inner, a, x[:, -1:]), axis=1)
        nodes = np.concatenate((a, inner, x[:, -1:]), axis=1)
        values = np.concatenate((fx[:, :1], f(inner, at), fx[:, -1:]), axis=1)
        turned = (values > 0) != (values[:, :1] > 0)
        k = np.maximum(np.argmax(turned, axis=1), 1)[:, None] + np.array([-1, 0])
        x, fx = np.take_along_axis(nodes, k, 1), np.take_along_axis(values, k, 1)
        guess = _bent(nodes, values, k, _straight(x, fx))
        size = np.abs(x[:, 1])
        step = np.abs(fx[:, 0] - fx[:, 1]) > 1e-4 * np.max(np.abs(values), axis=1)
        # At a jump the safe side is kept; where f is smooth a straight line ends it.
        result[at] = np.where(step, x[:, 0], _straight(x, fx))
        narrow = x[:, 1] - x[:, 0]
        go = narrow > np.where(step, 4.5e-16, 1e-8) * size
        at, x, fx, guess = at[go], x[go], fx[go], guess[go]
    return result


def _straight(x: Array, fx: Array) -> Array:
    """Where a straight line through two points, shape (n, 2), is zero."""
    with np.errstate(divide="ignore", invalid="ignore"):
        root = x[:, 0] - fx[:, 0] * ((x[:, 1] - x[:, 0]) / (fx[:, 1] - fx[:, 0]))
    return np.where(np.isfinite(root), root, 0.5 * (x[:, 0] + x[:, 1]))


def _bent(x: Array, fx: Array, k: Index, otherwise: Array) -> Array:
    """Where the inverse cubic through the four points about a bracket is zero, if inside it."""
    four = np.clip(k[:, :1] + np.arange(-1, 3), 0, x.shape[1] - 1)
    y, fy = np.take_along_axis(x, four, 1), np.take_along_axis(fx, four, 1)
    root = np.zeros(x.shape[0])
    with np.errstate(all="ignore"):
        for i in range(4):
            term = np.copy(y[:, i])
            for j in range(4):
                if j != i:
                    term *= fy[:, j] / (fy[:, j] - fy[:, i])
            root += term
    inside = (root > y[:, 1]) & (root < y[:, 2])
    return np.where(inside, root, otherwise)
