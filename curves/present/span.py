"""How far along the road a setup's line goes."""

from __future__ import annotations

import numpy as np

from curves.numerics.roots import Array
from curves.setups.batch import Batch
from curves.steady.balance import TopSpeed
from curves.units import KMH

LEAST = 1.0 * KMH
SHORTEST = 60.0 * KMH
"""Shown where nothing ends the line and the top speed is slow."""


def line_end(b: Batch, top: TopSpeed) -> Array:
    """Road speed at which each setup's line ends, m/s, shape (setups,); never NaN.

    It is the no-load speed, or the cap or ceiling that ends driving before. Where neither exists
    (a motor weakened without bound) it is twice the top speed.

    Args:
        b: The setups.
        top: Their top speeds, as ``top_speed`` gives them.
    """
    rotor = b.ratio[:, 0] / b.radius[:, 0]
    end = np.fmin(top.no_load_speed, b.speed_cap[:, 0])
    end = np.fmin(end, b.rotor_limit[:, 0] / rotor)
    end = np.fmin(end, b.electrical_limit[:, 0] / (rotor * b.drive.pole_pairs[:, 0]))
    beyond = np.fmax(2 * np.nan_to_num(top.speed), SHORTEST)
    return np.fmax(np.where(np.isfinite(end), end, beyond), LEAST)
