"""The same watts from every pack, so that only voltage differs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.batch import Batch
from curves.setups.stack import stack
from curves.steady.envelope import draw, ideal_rotor_speed, input_power_at, no_load_speed

GRID = 257


def same_pack_power(rigs: Sequence[Rig], watts: float | None = None) -> tuple[Rig, ...]:
    """The setups with one power cap for all.

    Args:
        rigs: The setups.
        watts: The cap, W, above 0, in place of any they have; the lowest of their own ceilings if
            left out. A setup whose other limits hold it below keeps drawing less.

    Raises:
        ValueError: if ``watts`` is not above 0.
    """
    if not rigs:
        return ()
    cap = float(np.min(power_ceiling(stack(rigs).batch()))) if watts is None else float(watts)
    if not 0 < cap < np.inf:
        raise ValueError(f"the power to share must be above 0 W, not {cap:g}")
    return tuple(
        replace(rig, tune=rig.tune.model_copy(update={"power_cap_w": cap})) for rig in rigs
    )


def power_ceiling(b: Batch) -> Array:
    """The most power each setup draws at any speed, W, shape (setups,); 0 where it draws none.

    Args:
        b: The setups.
    """
    none = no_load_speed(b)
    rotor = b.ratio[:, 0] / b.radius[:, 0]
    high = np.where(np.isnan(none), ideal_rotor_speed(b) / rotor, none)
    low = np.zeros_like(high)
    best = low
    for _ in range(3):
        v = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, GRID)
        power = np.nan_to_num(input_power_at(b, draw(b, v)), nan=-1.0)
        k = np.argmax(power, axis=1)
        best = np.maximum(best, power.max(axis=1))
        rows = np.arange(b.size)
        low, high = v[rows, np.maximum(k - 1, 0)], v[rows, np.minimum(k + 1, GRID - 1)]
    return best
