"""Measured series beside what is predicted of them: residuals and their derivatives, made white."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from curves.measured.noise import Noise, scatter
from curves.numerics.roots import Array

Predict: TypeAlias = Callable[[Array], Sequence[Array]]
"""Parameter sets of shape (sets, parameters) to a prediction a series, each (sets, samples)."""

STEP: Final = 1e-3
"""Of a derivative, over the parameter's scale; central, so its error is about a millionth."""
FAR: Final = 5.0
"""Standard deviations from its neighbours past which a sample is a spike and left out."""


@dataclass(frozen=True)
class Series:
    """Something measured over time.

    Attributes:
        name: For people.
        time: s, rising, shape (samples,).
        values: Shape (samples,).
        least: Standard deviation of noise below which none is believed.
        remembers: Whether the noise may have a memory.
    """

    name: str
    time: Array
    values: Array
    least: float
    remembers: bool = True

    def only(self, kept: NDArray[np.bool_]) -> Series:
        """Some of its samples."""
        return replace(self, time=self.time[kept], values=self.values[kept])


def spikes(left: Array, least: float) -> NDArray[np.bool_]:
    """Samples far off their neighbours, as a receiver that loses its fix gives them.

    Args:
        left: Measured less predicted, shape (samples,).
        least: Standard deviation of noise below which none is believed.
    """
    if left.size < 5:
        return np.zeros(left.size, dtype=np.bool_)
    padded = np.concatenate((left[:2][::-1], left, left[-2:][::-1]))
    near = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    return np.asarray(np.abs(left - near) > FAR * max(scatter(left), least))


def only(predict: Predict, kept: Sequence[NDArray[np.bool_]]) -> Predict:
    """The same predictions at some of the samples."""

    def part(sets: Array) -> list[Array]:
        return [p[:, mask] for p, mask in zip(predict(sets), kept, strict=True)]

    return part


class Seen:
    """Predictions at a point and around it, made together and kept, and what they leave over.

    Attributes:
        noises: Noise of each series, with which residuals are made white.
    """

    noises: Sequence[Noise]

    def __init__(
        self,
        series: Sequence[Series],
        predict: Predict,
        scale: Array,
        bounds: tuple[Array, Array],
    ) -> None:
        self._series, self._predict = series, predict
        self._step, self._bounds = STEP * scale, bounds
        self._at: Array | None = None
        self._left: list[Array] = []
        self._parts: list[Array] = []
        self._white: tuple[Array, Sequence[Noise], Array] | None = None

    def raw(self, x: Array) -> tuple[list[Array], list[Array]]:
        """Of each series: measured less predicted, and its derivatives (samples, parameters)."""
        if self._at is None or not np.array_equal(self._at, x):
            moves = np.diag(self._step)
            up = np.minimum(x + moves, self._bounds[1])
            down = np.maximum(x - moves, self._bounds[0])
            spans = np.diag(up - down)
            predicted = self._predict(np.concatenate((x[None, :], up, down)))
            n = x.size
            # Where nothing is predicted, nothing is compared.
            self._left = [
                np.nan_to_num(one.values - p[0])
                for one, p in zip(self._series, predicted, strict=True)
            ]
            self._parts = [
                np.nan_to_num((p[n + 1 :] - p[1 : n + 1]) / spans[:, None]).T for p in predicted
            ]
            self._at = x.copy()
        return self._left, self._parts

    def white(self, x: Array) -> Array:
        """What is left of all series, white."""
        return self._both(x)[:, 0]

    def slopes(self, x: Array) -> Array:
        """Derivatives of what is left of all series, white."""
        return self._both(x)[:, 1:]

    def _both(self, x: Array) -> Array:
        if self._white is not None:
            at, noises, both = self._white
            if noises is self.noises and np.array_equal(at, x):
                return both
        both = np.concatenate(
            [
                noise.white(one.time, np.column_stack((left, parts)))
                for noise, one, left, parts in zip(
                    self.noises, self._series, *self.raw(x), strict=True
                )
            ]
        )
        self._white = (x.copy(), self.noises, both)
        return both
