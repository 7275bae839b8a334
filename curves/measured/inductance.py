"""Least and most inductance from readings at rotor angles, by a fit over the electrical angle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from curves.measured.estimate import Estimate, linear_fit
from curves.numerics.roots import Array

FEWEST = 5
"""Readings of a pair that leave something to judge a fit by."""
TOLD = 2.0
"""Standard uncertainties by which an amplitude must stand out from scatter."""
POOR = 0.03
"""Scatter about the fit, over the mean, past which it is called poor."""
HOW = "LCR meter over rotor angle, sinusoid fitted"


def from_angles(
    pair: NDArray[np.str_], angle: Array, microhenries: Array, warnings: list[str]
) -> dict[str, Estimate]:
    """Inductance between two leads is ``a + b cos 2θ + c sin 2θ``: least and most of that.

    The extremes of a handful of readings lie inside the true ones where the angles miss them, and
    outside where readings scatter; the fit is free of both.

    Args:
        pair: Which two leads, shape (readings,).
        angle: Electrical angle from any origin, rad, shape (readings,).
        microhenries: Terminal to terminal, shape (readings,).
        warnings: Gets what should be looked at again.

    Returns:
        ``inductance_d_uh`` and ``inductance_q_uh``, or nothing where no pair has readings enough.
    """
    rows = []
    for name in sorted(set(pair.tolist())):
        at = pair == name
        if (row := _pair(name, angle[at], microhenries[at], warnings)) is not None:
            rows.append(row)
    if not rows:
        return {}
    middle, middle_u, swing, swing_u = np.array(rows).T
    count = int(microhenries.size)
    if middle.size > 1 and np.ptp(middle) > 0.03 * middle.mean():
        warnings.append(
            f"The mean inductance differs by {np.ptp(middle) / middle.mean():.1%} between pairs."
        )
    centre, amplitude = float(middle.mean()), float(swing.mean())
    u_centre = float(np.sqrt(np.nansum(middle_u**2)) / middle.size)
    u_swing = float(np.sqrt(np.nansum(swing_u**2)) / swing.size)
    if np.isfinite(u_swing) and amplitude < TOLD * u_swing:
        warnings.append(
            f"The swing over the angle, ±{amplitude:.2g} µH, is within the readings' scatter: "
            "both inductances are set to their mean."
        )
        amplitude = 0.0
    u = float(np.hypot(u_centre, u_swing))
    return {
        "inductance_d_uh": Estimate(centre - amplitude, u, count, HOW),
        "inductance_q_uh": Estimate(centre + amplitude, u, count, HOW),
    }


def _pair(
    name: str, angle: Array, microhenries: Array, warnings: list[str]
) -> tuple[float, float, float, float] | None:
    """Mean, amplitude and their standard uncertainties of one pair, µH."""
    double = 2 * angle
    columns = np.column_stack((np.ones_like(double), np.cos(double), np.sin(double)))
    fit = linear_fit(columns, microhenries)
    spread = np.linalg.svd(columns, compute_uv=False)
    if not fit.known or spread[-1] < 0.2 * spread[0]:
        warnings.append(
            f"The angles of {name} do not span half an electrical turn in three steps or more: "
            "its readings are not used."
        )
        return None
    if angle.size < FEWEST:
        warnings.append(
            f"{name} has {angle.size} inductance readings: {FEWEST} or more, spread over half an "
            "electrical turn, show whether the fit is good."
        )
    middle, b, c = fit.values
    swing = float(np.hypot(b, c))
    along = np.array((0.0, b, c)) / swing if swing > 0 else np.array((0.0, 1.0, 0.0))
    u_swing = float(np.sqrt(along @ fit.covariance @ along))
    if fit.degrees > 0 and fit.scatter > POOR * middle:
        warnings.append(
            f"The inductance of {name} scatters by {fit.scatter / middle:.1%} about its fit: turn "
            "the rotor in even steps and hold it still for each reading."
        )
    if swing >= middle:
        warnings.append(f"The fit of {name} would make the least inductance negative: not used.")
        return None
    return float(middle), fit.uncertainty(0), swing, u_swing
