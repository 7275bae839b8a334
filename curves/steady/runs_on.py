"""How a bike goes on past what its motor drives: the road and the rider drag the motor along."""

from __future__ import annotations

import numpy as np

from curves.numerics.roots import Array, Index, bracketed_root
from curves.setups.batch import Batch

RIDER_FROM = np.nextafter(1.0, 0.0)
"""The last speed without the rider's watts, m/s."""


def runs_on(b: Batch, speed: Array, *, rider: bool) -> Array:
    """Speed at which road load and the no-load torque dragged along balance what pushes.

    Diode braking is left out; with a clutch nothing is dragged.

    Args:
        b: The setups.
        speed: What each is driven to, m/s, shape (setups,); NaN for those not asked.
        rider: Whether the rider's watts push as well as the road.

    Returns:
        m/s, above ``speed``; NaN where the bike does not run on.
    """

    def push(v: Array, rows: Index) -> Array:
        part, v = b.pick(rows), v[:, None]
        helped = part.road.rider(v) if rider else 0.0
        return (helped - part.road.force(v) - dragged_force(part, v))[:, 0]

    found = np.full(b.size, np.nan)
    rows = np.flatnonzero(~np.isnan(speed))
    at_low = push(speed[rows], rows)
    rows, at_low = rows[at_low > 0], at_low[at_low > 0]
    if not rows.size:
        return found
    low = speed[rows]
    high = np.maximum(2 * low, 1.0)
    if rider:
        # Below 1 m/s there are no watts yet: a bike that stops there has stopped.
        high = np.where(low < RIDER_FROM, RIDER_FROM, high)
    for _ in range(14):
        more = push(high, rows) > 0
        if not more.any():
            break
        high = np.where(more, 2 * high, high)
    at_high = push(high, rows)
    root = bracketed_root(lambda v, at: push(v, rows[at]), low, high, at_low, at_high)
    found[rows] = np.where(at_high <= 0, root, np.nan)
    return found


def dragged_force(b: Batch, v: Array) -> Array:
    """Rim force of the no-load torque that the wheel drags along in the tallest gear, N.

    Args:
        b: The setups.
        v: Road speed, m/s, shape (setups, speeds).
    """
    through = b.ratio[:, :1] / b.radius
    torque = b.drive.no_load_torque + b.drive.no_load_drag * through * v
    return np.where(b.clutch > 0, 0.0, torque * through / b.efficiency)
