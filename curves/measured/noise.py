"""The noise of a measured series: a white part and a slow one that remembers itself for a while.

GPS speed wanders: neighbouring samples err alike, so a hundred of them know less than a hundred
independent ones would. Intervals are honest only if that is taken into account. The slow part is
an Ornstein-Uhlenbeck process, so one pass of a scalar Kalman filter makes a series white at any
spacing of samples.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from curves.numerics.roots import Array

FEWEST: Final = 8
"""Samples beyond the parameters below which no memory is looked for."""
LONGEST_SHARE: Final = 0.1
"""Longest memory looked for, as a share of the series: what is slower looks like a trend."""
SHARES: Final = np.array((0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.87, 0.95, 0.98))
MEMORIES: Final = np.linspace(0.0, 1.0, 13)
"""Trial shares of the slow part, and trial memories from one sample (0) to the longest (1)."""


@dataclass(frozen=True)
class Noise:
    """Covariance of a series: ``σ² (s exp(−|Δt| / τ) + (1 − s) [Δt = 0])``.

    Attributes:
        sigma: Standard deviation of a sample, in the unit of the series.
        slow: Share s of the variance that remembers itself, 0 to 1.
        memory: Its time τ, s.
    """

    sigma: float
    slow: float = 0.0
    memory: float = 1.0

    def white(self, time: Array, columns: Array) -> Array:
        """Columns of samples made independent, each of standard deviation 1 where it is this noise.

        Args:
            time: s, rising, shape (samples,).
            columns: Shape (samples, columns).
        """
        shares, memories = np.array((self.slow,)), np.array((self.memory,))
        return _filtered(time, columns, shares, memories)[0][:, 0] / self.sigma

    def coloured(self, time: Array, white: Array) -> Array:
        """The reverse: independent samples of standard deviation 1 made this noise.

        Args:
            time: s, rising, shape (samples,).
            white: Shape (samples, columns).
        """
        out = np.empty_like(white)
        state, variance = np.zeros(white.shape[1]), self.slow
        fade = np.exp(-np.diff(time, prepend=time[0]) / self.memory)
        for k in range(time.size):
            variance = fade[k] ** 2 * variance + self.slow * (1 - fade[k] ** 2)
            state = fade[k] * state
            total = variance + 1 - self.slow
            out[k] = state + np.sqrt(total) * white[k]
            state = state + variance / total * (out[k] - state)
            variance *= 1 - variance / total
        return self.sigma * out

    def independent(self, time: Array) -> float:
        """How many independent samples the series is worth for its mean."""
        if time.size < 2:
            return float(time.size)
        ones = self.sigma * self.white(time, np.ones((time.size, 1)))
        return float(np.clip(np.sum(ones**2), 1.0, time.size))


def noise_of(time: Array, residual: Array, design: Array, *, least: float) -> Noise:
    """Noise of what a fit leaves over, by restricted maximum likelihood.

    The likelihood is that of contrasts the fit cannot touch (Patterson and Thompson, Biometrika 58,
    1971, 545), so what the fit has eaten of the noise is given back.

    Args:
        time: s, rising, shape (samples,).
        residual: Readings less fit, shape (samples,).
        design: Derivatives of the fit by its parameters, shape (samples, parameters).
        least: A standard deviation below which none is believed.
    """
    n, k = design.shape
    degrees = max(n - k, 1)
    if n - k < FEWEST:
        return Noise(max(float(np.sqrt(residual @ residual / degrees)), least))
    step = float(np.median(np.diff(time)))
    reach = max(LONGEST_SHARE * float(time[-1] - time[0]) / step, 2.0)
    # Scaled so that its determinant is no worse than it must be.
    columns = np.linalg.qr(design / np.maximum(np.linalg.norm(design, axis=0), 1e-300))[0]
    both = np.column_stack((columns, residual))
    floor = degrees * least**2

    share, place = (x.ravel() for x in np.meshgrid(SHARES, MEMORIES))
    memory = step * reach**place
    white, log_size = _filtered(time, both, share, memory)
    gram = np.einsum("ngi,ngj->gij", white, white)
    inner, cross = gram[:, :k, :k], gram[:, :k, k]
    solved = np.linalg.solve(inner, cross[..., None])[..., 0]
    left = np.maximum(gram[:, k, k] - np.einsum("gi,gi->g", cross, solved), floor)
    score = degrees * np.log(left) + log_size + np.linalg.slogdet(inner)[1]
    # The mean over what is likely, not the likeliest: its long tail of memory is real.
    weight = np.exp(-0.5 * (score - score.min()))
    variance = weight / weight.sum() * left / degrees
    slow = float(np.sum(variance * share))
    total = float(np.sum(variance))
    kept = float(np.sum(variance * share * memory)) / slow if slow > 0 else step
    return Noise(float(np.sqrt(total)), slow / total, kept)


def scatter(values: Array) -> float:
    """Standard deviation of what differs from sample to sample, spikes apart.

    Args:
        values: A series in order, shape (samples,); 0 for fewer than three.
    """
    # Second differences are blind to a steady rise; 1.4826 makes the median that of a normal.
    second = np.diff(values, 2) / np.sqrt(6)
    return float(1.4826 * np.median(np.abs(second))) if second.size else 0.0


def _filtered(time: Array, columns: Array, share: Array, memory: Array) -> tuple[Array, Array]:
    """Innovations of columns, over their standard deviation, under several noises of variance 1.

    Args:
        time: s, rising, shape (samples,).
        columns: Shape (samples, columns).
        share: Slow share of each noise, shape (noises,).
        memory: Memory of each noise, s, shape (noises,).

    Returns:
        Shape (samples, noises, columns), and the logarithm of each covariance's determinant.
    """
    noises = share.size
    out = np.empty((time.size, noises, columns.shape[1]))
    state = np.zeros((noises, columns.shape[1]))
    variance, log_size = share.copy(), np.zeros(noises)
    fade = np.exp(-np.diff(time, prepend=time[0])[:, None] / memory)
    for k in range(time.size):
        squared = fade[k] ** 2
        variance = squared * variance + share * (1 - squared)
        state *= fade[k][:, None]
        total = variance + 1 - share
        new = columns[k] - state
        gain = variance / total
        out[k] = new / np.sqrt(total)[:, None]
        state += gain[:, None] * new
        variance *= 1 - gain
        log_size += np.log(total)
    return out, log_size
