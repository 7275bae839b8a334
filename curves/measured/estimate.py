"""Values with their standard uncertainty, and the linear fits they come from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from curves.numerics.roots import Array

COVERAGE: Final = 0.95
"""Share of intervals that should hold the truth."""
NORMAL: Final = 1.959964
"""Standard uncertainties from the middle to the end of a 95 % interval, many readings."""


@dataclass(frozen=True)
class Estimate:
    """A measured value.

    Attributes:
        value: In the unit its name says.
        uncertainty: Standard uncertainty in the same unit (JCGM 100), NaN where nothing is known.
        readings: How many readings it rests on.
        how: How it was found, for a source line.
    """

    value: float
    uncertainty: float
    readings: int
    how: str

    def with_also(self, *others: float) -> Estimate:
        """The same with more standard uncertainties, added as squares."""
        parts = np.nan_to_num(np.array([self.uncertainty, *others]), nan=0.0)
        return replace(self, uncertainty=float(np.sqrt(np.sum(parts**2))))


@dataclass(frozen=True)
class Fit:
    """A linear least-squares fit.

    Attributes:
        values: Coefficients, shape (columns,).
        covariance: Of the coefficients, from the scatter left over, shape (columns, columns),
            widened where readings are few; NaN where there are no more readings than coefficients.
        scatter: Root mean square of what is left, over the degrees of freedom; NaN without any.
        residuals: Readings less fit, shape (readings,).
        degrees: Readings less coefficients.
        known: Whether the readings determine every coefficient.
    """

    values: Array
    covariance: Array
    scatter: float
    residuals: Array
    degrees: int
    known: bool

    def uncertainty(self, column: int) -> float:
        """Standard uncertainty of one coefficient."""
        return float(np.sqrt(self.covariance[column, column]))


def linear_fit(columns: Array, readings: Array) -> Fit:
    """Least squares of equally sure readings.

    Args:
        columns: Factors of the coefficients, shape (readings, columns).
        readings: Shape (readings,).
    """
    scale = np.sqrt(np.sum(columns**2, axis=0))
    scale = np.where(scale > 0, scale, 1.0)
    u, s, vt = np.linalg.svd(columns / scale, full_matrices=False)
    known = columns.shape[0] >= columns.shape[1] and bool(s[-1] > 1e-6 * s[0])
    inverse = np.where(s > 1e-6 * s[0], 1 / np.where(s > 0, s, 1.0), 0.0)
    values = vt.T @ (inverse * (u.T @ readings)) / scale
    residuals = readings - columns @ values
    degrees = readings.size - columns.shape[1]
    scatter = float(np.sqrt(residuals @ residuals / degrees)) if degrees > 0 else np.nan
    shape = (vt.T * inverse**2) @ vt / np.outer(scale, scale)
    return Fit(values, shape * (few(degrees) * scatter) ** 2, scatter, residuals, degrees, known)


def mean(values: Array, how: str) -> Estimate:
    """Mean of repeated readings with its standard error; NaN as uncertainty of a single one."""
    spread = np.nan
    if values.size > 1:
        spread = float(np.std(values, ddof=1) / np.sqrt(values.size)) * few(values.size - 1)
    return Estimate(float(np.mean(values)), spread, int(values.size), how)


def few(degrees: int) -> float:
    """How much more unsure scatter makes a value when it is known from a few readings only.

    With it, twice the standard uncertainty holds the truth in about 95 of 100 cases. Below two
    degrees of freedom, where Student's factor runs away, that of two is kept.
    """
    return student(max(degrees, 2)) / NORMAL


def student(degrees: float) -> float:
    """Standard uncertainties from the middle to the end of a 95 % interval.

    Args:
        degrees: Degrees of freedom; below 1 counts as 1.
    """
    from scipy.special import stdtrit

    return float(stdtrit(max(degrees, 1.0), 0.5 + COVERAGE / 2))
