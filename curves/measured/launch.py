"""Where runs from rest begin and end in a track, and how surely the start is known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from curves.measured.noise import scatter
from curves.numerics.roots import Array

STILL: Final = 0.7
"""m/s below which a bike counts as standing: receivers show some speed at rest."""
WORTH: Final = 3.0
"""m/s that a run must reach."""
GAP_S: Final = 3.0
"""Time without a sample that ends a run."""
SLOWER: Final = 0.12
"""Share of its top speed by which a run slows once it is over."""
NEAR_TOP: Final = 0.015
"""Share of top speed by which speed may be below it while the pull lasts."""
RISE: Final = (0.2, 0.45)
"""Share of top speed up to which samples tell of the start: if there are enough, and at most."""
ENOUGH: Final = 6
"""Samples on the move that tell a bend."""
SHIFTS: Final = 121
"""Trial starts in each of two passes."""


@dataclass(frozen=True)
class Launch:
    """A run from rest.

    Attributes:
        start: When motion begins, s on the log's clock.
        uncertainty: Its standard uncertainty, s, if the noise has no memory.
        end: When the pull ends, s.
        top: Highest speed, m/s.
    """

    start: float
    uncertainty: float
    end: float
    top: float


def launches(time: Array, speed: Array) -> tuple[Launch, ...]:
    """Every run from rest, in order.

    Args:
        time: s, rising, shape (samples,).
        speed: m/s, shape (samples,).
    """
    if time.size < 4:
        return ()
    smooth = _median3(speed)
    still = _standing(smooth)
    gap = np.diff(time, prepend=time[0]) > max(GAP_S, 5 * float(np.median(np.diff(time))))
    found = []
    at = 0
    while at < time.size:
        begins = np.flatnonzero(~still[at:]) + at
        if not begins.size:
            break
        first = int(begins[0])
        last = _end(smooth, still, gap, first)
        rested = first > 0 and still[first - 1] and not gap[first]
        top = float(smooth[first : last + 1].max())
        if rested and top >= WORTH and last - first >= 2:
            found.append(_launch(time, speed, smooth, first, last))
        stops = np.flatnonzero(still[last:] | gap[last:])
        at = (
            last
            + (int(stops[0]) if stops.size else time.size)
            + (0 if stops.size and stops[0] else 1)
        )
    return tuple(found)


def start_of(time: Array, speed: Array) -> tuple[float, float]:
    """When ``v = a τ + b τ²`` leaves zero, and its standard uncertainty, s.

    Args:
        time: s, from rest into the first part of a pull, shape (samples,).
        speed: m/s, shape (samples,).
    """
    starts, _ = starts_of(time, speed[None, :])
    best = float(starts[0])
    since = np.maximum(time - best, 0.0)
    moving = since > 0
    if moving.sum() < 2:
        return best, float(np.max(np.diff(time))) / np.sqrt(12)
    columns = [since[moving], since[moving] ** 2][: _curved(time, best)]
    a = np.linalg.lstsq(np.column_stack(columns), speed[moving], rcond=None)[0]
    slope = a[0] + (2 * a[1] * since if a.size > 1 else 0.0)
    design = np.column_stack(
        (np.where(moving, slope, 0.0), *(np.where(moving, since**k, 0.0) for k in (1, 2)[: a.size]))
    )
    fitted = sum(c * since ** (k + 1) for k, c in enumerate(a))
    left = speed - fitted
    degrees = max(time.size - a.size - 1, 1)
    sigma = max(float(np.sqrt(left @ left / degrees)), scatter(speed), 0.01)
    normal = np.linalg.pinv(design.T @ design)
    return best, float(sigma * np.sqrt(normal[0, 0]))


def starts_of(time: Array, speeds: Array) -> tuple[Array, Array]:
    """Starts of many noisy looks at one run, by least squares over trial starts.

    Args:
        time: s, shape (samples,).
        speeds: m/s, shape (looks, samples).

    Returns:
        Starts, s, and what is left over squared, shape (looks,).
    """
    rising = np.flatnonzero(np.median(speeds, axis=0) >= STILL)
    first = time[rising[0]] if rising.size else time[-1]
    before = time[time < first]
    step = float(np.median(np.diff(time)))
    low = max(float(before[0]) if before.size else time[0] - step, first - 4.0)
    high = min(first + step, float(time[-2]))
    best = np.zeros(speeds.shape[0])
    left = np.full(speeds.shape[0], np.inf)
    centre, half = np.full(speeds.shape[0], (low + high) / 2), (high - low) / 2
    for _ in range(2):
        trials = centre[:, None] + np.linspace(-half, half, SHIFTS)
        common = np.unique(np.round(trials.ravel(), 6)) if np.ptp(centre) else trials[0]
        errors = np.stack([_hinge(time, speeds, float(t)) for t in common], axis=1)
        at = np.argmin(errors, axis=1)
        best, left = common[at], errors[np.arange(at.size), at]
        centre, half = (
            np.full(speeds.shape[0], float(np.median(best))),
            4 * half / SHIFTS + float(np.ptp(best)) / 2,
        )
    return best, left


def _hinge(time: Array, speeds: Array, start: float) -> Array:
    """Squares left over by the best rise from a start, shape (looks,)."""
    since = np.maximum(time - start, 0.0)
    columns = np.column_stack((since, since**2))[:, : _curved(time, start)]
    q, _ = np.linalg.qr(columns)
    along = speeds @ q
    return np.asarray(np.sum(speeds**2, axis=1) - np.sum(along**2, axis=1))


def _curved(time: Array, start: float) -> int:
    """Two coefficients where samples are enough to tell a bend, else one."""
    return 2 if np.sum(time > start) >= ENOUGH else 1


def _launch(time: Array, speed: Array, smooth: Array, first: int, last: int) -> Launch:
    top = float(smooth[first : last + 1].max())
    upto = first + _rise(smooth[first : last + 1], top)
    begin = first
    while begin > 0 and smooth[begin - 1] < 1.5 * STILL and time[first] - time[begin - 1] < 5.0:
        begin -= 1
    part = slice(begin, min(max(upto, first + 2), last) + 1)
    start, uncertainty = start_of(time[part], speed[part])
    step = float(np.median(np.diff(time[part])))
    # A corner between two samples is seen no finer than their distance allows.
    sampled = step / np.sqrt(12) / max(np.sum(time[part] > start), 1)
    return Launch(start, float(np.hypot(uncertainty, sampled)), float(time[last]), top)


def rise_end(time: Array, smooth: Array, launch: Launch) -> float:
    """Time up to which samples tell of a run's start, s.

    Args:
        time: s, shape (samples,).
        smooth: Speed without noise, m/s, shape (samples,).
        launch: the run.
    """
    after = np.flatnonzero(time > launch.start)
    if not after.size:
        return float(time[-1])
    return float(time[after[0] + _rise(smooth[after[0] :], launch.top)])


def _rise(speed: Array, top: float) -> int:
    """Place of the last sample that tells of the start, counted from the first on the move."""
    low, high = (
        int(np.argmax(speed >= share * top)) if np.any(speed >= share * top) else speed.size - 1
        for share in RISE
    )
    return min(max(low, ENOUGH), max(high, 1), speed.size - 1)


def _standing(smooth: Array) -> NDArray[np.bool_]:
    """Where a bike stands: below ``STILL``, and from there until it is clearly above."""
    sure = np.where(smooth < STILL / 2, 1, np.where(smooth >= STILL, -1, 0))
    last = np.maximum.accumulate(np.where(sure != 0, np.arange(sure.size), 0))
    return np.asarray(np.where(sure[last] == 0, smooth < STILL, sure[last] > 0))


def _end(smooth: Array, still: NDArray[np.bool_], gap: NDArray[np.bool_], first: int) -> int:
    """Last sample of the pull that begins at ``first``."""
    stops = np.flatnonzero(gap[first + 1 :] | still[first + 1 :])
    limit = first + (int(stops[0]) if stops.size else smooth.size - first - 1)
    part = smooth[first : limit + 1]
    most = np.maximum.accumulate(part)
    over = np.flatnonzero(most - part > np.maximum(SLOWER * most, 1.0))
    if not over.size:
        return limit
    # On a level stretch noise has its peak anywhere: the pull ends with the last speed near it.
    before = part[: over[0]]
    return first + int(np.flatnonzero(before >= (1 - NEAR_TOP) * before.max())[-1])


def _median3(x: Array) -> Array:
    padded = np.concatenate((x[:1], x, x[-1:]))
    return np.median(np.stack((padded[:-2], padded[1:-1], padded[2:])), axis=0)
