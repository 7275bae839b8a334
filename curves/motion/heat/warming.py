"""How long a steady speed may last before something is too hot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.motion.heat.march import march
from curves.motion.heat.settling import Settled, settled
from curves.motion.state import rows, thermal
from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.units import HOUR

LONGEST_S = 12 * HOUR


@dataclass(frozen=True)
class Warming:
    """Times from the state the setups are asked in; arrays of shape (setups,).

    Attributes:
        names: Name of each setup.
        winding_s: To the winding's limit, s; infinite where it is never reached, NaN where heat
            values or the limit are not given, the bike does not start, or its temperatures need
            more steps than are taken.
        magnet_s: To the magnets' limit, s, likewise.
        settled: Where the temperatures settle.
    """

    names: tuple[str, ...]
    winding_s: Array
    magnet_s: Array
    settled: Settled


def time_to_limit(rigs: Sequence[Rig] | Stack, speed: Array) -> Warming:
    """How long each setup holds a speed on its own road before winding or magnets are too hot.

    Args:
        rigs: The setups, or a stack of them.
        speed: Road speed, m/s, shape (setups,) or one for all; slower where it cannot be held.
    """
    s = rigs if isinstance(rigs, Stack) else stack(rigs)
    v = np.broadcast_to(np.asarray(speed, dtype=np.float64), (len(s.names),)).copy()
    heat, end = thermal(s), settled(s, v)
    limits = np.stack((heat.limit_c, heat.magnet_limit_c))
    times = np.where(np.isfinite(limits) & ~np.isnan(end.winding_c), np.inf, np.nan)
    hot = np.stack((end.over, end.magnets_over))
    at = np.flatnonzero(hot.any(axis=0))
    if at.size:
        awaited = np.concatenate((hot[:, at], np.zeros((1, at.size), dtype=np.bool_)))
        endless = np.full(at.size, np.inf)
        found = march(rows(s, at), v[at], time=LONGEST_S, distance=endless, awaited=awaited)
        reached = np.stack((found.limit_s, found.magnet_limit_s))
        never = np.where(found.given_up, np.nan, times[:, at])
        times[:, at] = np.where(np.isnan(reached), never, reached)
    return Warming(s.names, times[0], times[1], end)
