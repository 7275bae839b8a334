"""Warming up at a steady speed until what is awaited happens: limits met, a distance come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.motion.heat.warm_up import MOST_TRIES, Leap, WarmUp
from curves.motion.state import thermal
from curves.numerics.roots import Array, Index, bracketed_root
from curves.pace import tell
from curves.setups.stack import Stack

STEADY_K_PER_S = 1e-7
"""Below this nothing more will happen to a setup's temperatures."""
TOO_ABRUPT = f"its temperatures jump too often; {MOST_TRIES} steps were tried"
"""Why a setup was given up."""


@dataclass(frozen=True)
class March:
    """Setups warming up; arrays of shape (setups,), NaN for what does not happen in the time.

    Attributes:
        limit_s: When the winding reaches its limit, s.
        limit_m: How far they have come by then, m.
        magnet_limit_s: When the magnets reach theirs, s.
        end_s: When they have come the whole distance, s.
        end_winding_c: Winding then (or when nothing more happens), °C.
        end_case_c: Case then, °C.
        stops_m: How far they have come when a hot motor no longer moves them, m.
        given_up: Which still waited when they had taken all the steps that are taken with one.
    """

    limit_s: Array
    limit_m: Array
    magnet_limit_s: Array
    end_s: Array
    end_winding_c: Array
    end_case_c: Array
    stops_m: Array
    given_up: NDArray[np.bool_]


def march(
    s: Stack,
    speed: Array,
    *,
    time: float,
    distance: Array,
    awaited: NDArray[np.bool_],
) -> March:
    """Ride at a steady speed from the state the setups are asked in, with their charge held.

    Args:
        s: The setups; their heat values must be given.
        speed: Road speed asked for, m/s, shape (setups,); slower where it cannot be held.
        time: The most that is looked at, s.
        distance: A distance to be noted on the way, m, shape (setups,); infinite for none.
        awaited: What each setup goes on for, shape (3, setups): the winding's limit, the magnets'
            limit, the distance.
    """
    heat, count = thermal(s), speed.size
    if count == 0:
        none = np.zeros(0)
        return March(none, none, none, none, none, none, none, np.zeros(0, dtype=np.bool_))
    ride = WarmUp.begin(s, speed)
    marks = np.stack((heat.limit_c, heat.magnet_limit_c, distance))
    when = np.where(ride.state >= marks, 0.0, np.nan)
    there = np.repeat(ride.state[:, None], 3, axis=1)
    stops = np.full(count, np.nan)
    going, given_up = np.arange(count), np.zeros(count, dtype=np.bool_)
    # Each turn is a step tried with every one that goes on, so there are ``MOST_TRIES`` at most.
    while going.size:
        tell("setups warmed up", count - going.size, count)
        leap = ride.advance(going, time)
        _note(leap, ride.state, marks, when, there)
        # One whose motor still pushes, though ever less, stands only once it no longer moves.
        still = going[(ride.rate[2, going] <= 0) & np.isnan(stops[going])]
        stops[still] = ride.state[2, still]
        waits = (awaited & np.isnan(when)).any(axis=0) & np.isnan(stops) & (ride.time < time)
        steady = np.abs(ride.rate[:2]).max(axis=0) < STEADY_K_PER_S
        waits &= ~steady | (awaited[2] & np.isnan(when[2]))
        given_up[going] = (waits & ride.exhausted)[going]
        going = going[(waits & ~ride.exhausted)[going]]
    done = ~np.isnan(when[2])
    return March(
        limit_s=when[0],
        limit_m=np.where(np.isnan(when[0]), np.nan, there[2, 0]),
        magnet_limit_s=when[1],
        end_s=when[2],
        end_winding_c=np.where(done, there[0, 2], ride.state[0]),
        end_case_c=np.where(done, there[1, 2], ride.state[1]),
        stops_m=stops,
        given_up=given_up,
    )


def _note(leap: Leap, now: Array, marks: Array, when: Array, there: Array) -> None:
    """Note when each setup's steps have reached its marks, and its state there.

    Args:
        leap: The steps.
        now: States after them, shape (3, setups).
        marks: What winding, case and way are to reach, shape (3, setups).
        when: Times, s, shape (3, setups), NaN for not yet; written.
        there: States, shape (3, marks, setups); written.
    """
    which, k = np.nonzero(np.isnan(when[:, leap.at]) & (now >= marks)[:, leap.at])
    if not which.size:
        return
    at = leap.at[k]
    target = marks[which, at]

    def short(share: Array, some: Index) -> Array:
        missing: Array = leap.states(share, k[some])[which[some], np.arange(some.size)]
        return missing - target[some]

    every, zero, one = np.arange(k.size), np.zeros(k.size), np.ones(k.size)
    f_low, f_high = np.minimum(short(zero, every), 0.0), np.maximum(short(one, every), 0.0)
    share = bracketed_root(short, zero, one, f_low, f_high)
    when[which, at] = leap.time[k] + share * leap.step[k]
    there[:, which, at] = leap.states(share, k)
