"""Warming up on a hill as it goes: temperatures along the way, for drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.motion.heat.warm_up import WarmUp
from curves.motion.state import rows, thermal
from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.stack import stack
from curves.units import HOUR, PERCENT

WITHIN = np.linspace(0.0, 1.0, 7)[1:]
"""Shares of each step at which a point is drawn."""
LONGEST_S = 12 * HOUR


@dataclass(frozen=True)
class Tracks:
    """Setups on a hill; arrays of shape (setups, points), NaN where heat values are not given.

    A setup that has come to its end, or to its last step, stays there for the points that are left.

    Attributes:
        names: Name of each setup.
        way: Along the road, m.
        winding_c: °C.
        case_c: Case and magnets, °C.
    """

    names: tuple[str, ...]
    way: Array
    winding_c: Array
    case_c: Array


def hill_tracks(rigs: Sequence[Rig], grade: float, speed: float, distance: float) -> Tracks:
    """Ride every setup up a hill, from the temperatures it states, with its charge held.

    Args:
        rigs: The setups; their own grade is left aside.
        grade: Tangent.
        speed: Road speed to be held, m/s, above 0; where it cannot be held, as fast as it goes.
        distance: Along the road, m, above 0; each goes on until it has come as far, or stands.

    Raises:
        ValueError: if speed or distance is not above 0.
    """
    if not (speed > 0 and distance > 0):
        raise ValueError("a track needs a speed and a distance above 0")
    every = stack(rigs).vary({"conditions.grade_percent": np.full(len(rigs), grade / PERCENT)})
    given = np.flatnonzero(thermal(every).known)
    s = rows(every, given)
    ride = WarmUp.begin(s, np.full(given.size, speed))
    drawn = [ride.state[..., None].copy()]
    going = np.flatnonzero(ride.rate[2] > 0)
    while going.size:
        leap = ride.advance(going, LONGEST_S)
        points = np.repeat(ride.state[..., None], WITHIN.size, axis=2)
        for k, share in enumerate(WITHIN):
            points[:, leap.at, k] = leap.states(np.full(leap.at.size, share))
        drawn.append(points)
        goes = (ride.state[2] < distance) & (ride.rate[2] > 0) & (ride.time < LONGEST_S)
        goes &= ~ride.exhausted
        going = going[goes[going]]
    track = np.concatenate(drawn, axis=2)
    found = np.full((3, len(rigs), track.shape[2]), np.nan)
    found[:, given] = track
    return Tracks(every.names, found[2], found[0], found[1])
