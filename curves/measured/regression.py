"""Parameters from measured series by weighted least squares, with intervals that mean something.

The noise of every series is estimated along the way, memory included, and residuals are made white
with it before they are squared; spikes are held down by a robust loss. Predictions are asked for
in batches, a row a set of parameters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from curves.measured.estimate import student
from curves.measured.noise import Noise, noise_of, scatter
from curves.measured.seen import Predict, Seen, Series, only, spikes
from curves.numerics.roots import Array

SPIKE: Final = 2.5
"""Standard deviations past which a residual counts less than its square."""
ROUNDS: Final = 3
"""Solutions, each with the noise that the one before left over; the first takes it as white."""


@dataclass(frozen=True)
class Regression:
    """Parameters found.

    Attributes:
        values: Shape (parameters,).
        covariance: Shape (parameters, parameters).
        noises: Noise of each series.
        residuals: Measured less predicted of each series, at the samples kept.
        kept: Which samples of each series count; spikes do not.
        degrees: Independent samples less parameters.
        at_bound: Which parameters stand at a bound, shape (parameters,).
        lower: Bounds, shape (parameters,).
        upper: Bounds, shape (parameters,).
        white: Robustly weighted residuals of all series, white, shape (samples of all,).
        slopes: Their derivatives, white, shape (samples of all, parameters).
        converged: Whether the search ended by itself.
    """

    values: Array
    covariance: Array
    noises: tuple[Noise, ...]
    residuals: tuple[Array, ...]
    kept: tuple[NDArray[np.bool_], ...]
    degrees: float
    at_bound: NDArray[np.bool_]
    lower: Array
    upper: Array
    white: Array
    slopes: Array
    converged: bool

    @property
    def uncertainty(self) -> Array:
        """Standard uncertainty of each parameter."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def correlation(self) -> Array:
        """Correlation of the parameters, shape (parameters, parameters)."""
        u = self.uncertainty
        return np.asarray(self.covariance / np.outer(u, u))

    def interval(self) -> tuple[Array, Array]:
        """Ends of the 95 % intervals, within the bounds."""
        half = student(self.degrees) * self.uncertainty
        low, high = self.values - half, self.values + half
        return np.maximum(low, self.lower), np.minimum(high, self.upper)


def regress(
    series: Sequence[Series],
    predict: Predict,
    start: Array,
    *,
    lower: Array,
    upper: Array,
    scale: Array,
) -> Regression:
    """Fit parameters to all series at once.

    Args:
        series: What was measured.
        predict: What parameters predict of each.
        start: Where to begin, within the bounds, shape (parameters,).
        lower: Shape (parameters,).
        upper: Shape (parameters,).
        scale: By how much each parameter would typically move, above 0.
    """
    from scipy.optimize import least_squares

    kept = tuple(np.ones(one.time.size, dtype=np.bool_) for one in series)
    used, seen = series, Seen(series, predict, scale, (lower, upper))
    seen.noises = [Noise(max(scatter(one.values), one.least)) for one in series]
    x, last = np.clip(start, lower, upper), None
    for turn in range(ROUNDS):
        last = least_squares(
            seen.white,
            x,
            jac=seen.slopes,
            bounds=(lower, upper),
            x_scale=scale,
            loss="soft_l1",
            f_scale=SPIKE,
            xtol=1e-5,
            ftol=1e-6,
            gtol=1e-8,
            max_nfev=40,
        )
        x = np.asarray(last.x)
        if turn == 0:
            kept = tuple(
                ~spikes(left, one.least) for left, one in zip(seen.raw(x)[0], series, strict=True)
            )
            if not all(mask.all() for mask in kept):
                used = [one.only(mask) for one, mask in zip(series, kept, strict=True)]
                seen = Seen(used, only(predict, kept), scale, (lower, upper))
        seen.noises = [
            _noise(one, left, slopes) for one, left, slopes in zip(used, *seen.raw(x), strict=True)
        ]
    white, slopes = seen.white(x), seen.slopes(x)
    weight = (1 + (white / SPIKE) ** 2) ** -0.25
    white, slopes = weight * white, weight[:, None] * slopes
    worth = sum(noise.independent(one.time) for noise, one in zip(seen.noises, used, strict=True))
    return Regression(
        values=x,
        covariance=_inverse(slopes, scale),
        noises=tuple(seen.noises),
        residuals=tuple(seen.raw(x)[0]),
        kept=kept,
        degrees=max(worth - x.size, 1.0),
        at_bound=np.asarray(last.active_mask != 0) if last is not None else np.zeros(0, np.bool_),
        lower=lower,
        upper=upper,
        white=white,
        slopes=slopes,
        converged=last is not None and last.status > 0,
    )


def bootstrap(
    found: Regression,
    series: Sequence[Series],
    predict: Predict,
    *,
    count: int,
    rng: np.random.Generator,
) -> Array:
    """Parameters of made-up measurements: the prediction with its own residuals drawn again.

    White residuals are drawn with replacement and coloured back in each series; each of the new
    measurements is fitted with the derivatives found, by as many steps as it takes.

    Args:
        found: What ``regress`` found.
        series: What was measured.
        predict: As for ``regress``.
        count: How many.
        rng: Where the draws come from.

    Returns:
        Shape (count, parameters).
    """
    series = [one.only(mask) for one, mask in zip(series, found.kept, strict=True)]
    predict = only(predict, found.kept)
    total = found.white.size
    centred = found.white - found.white.mean()
    drawn = centred[rng.integers(0, total, (total, count))]
    drawn *= np.sqrt(total / max(total - found.values.size, 1))
    u = np.linalg.pinv(found.slopes)
    base = predict(found.values[None, :])
    x = np.repeat(found.values[None, :], count, axis=0)
    for _ in range(3):
        left = []
        at = 0
        moved = predict(x)
        for one, noise, before, now in zip(series, found.noises, base, moved, strict=True):
            white = noise.white(one.time, np.nan_to_num(now - before[0]).T)
            left.append(drawn[at : at + one.time.size] - white)
            at += one.time.size
        # The slopes are those of the residuals, so of the prediction with the other sign.
        x = np.clip(x - (u @ np.concatenate(left)).T, found.lower, found.upper)
    return x


def _noise(one: Series, left: Array, slopes: Array) -> Noise:
    middle = float(np.median(left))
    spread = 1.4826 * float(np.median(np.abs(left - middle)))
    calm = np.clip(left, middle - 4 * spread, middle + 4 * spread) if spread > 0 else left
    size = np.linalg.norm(slopes, axis=0)
    told = slopes[:, size > 1e-9 * max(float(size.max(initial=0.0)), 1e-300)]
    if not one.remembers:
        degrees = max(left.size - told.shape[1], 1)
        return Noise(max(float(np.sqrt(calm @ calm / degrees)), one.least))
    return noise_of(one.time, calm, told, least=one.least)


def _inverse(slopes: Array, scale: Array) -> Array:
    """Inverse of the normal matrix; huge, not an error, along what the data do not tell."""
    _, s, vt = np.linalg.svd(slopes * scale, full_matrices=False)
    s = np.maximum(s, 1e-9 * max(float(s[0]), 1e-100))
    return np.asarray((vt.T / s**2) @ vt * np.outer(scale, scale))
