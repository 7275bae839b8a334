"""Warming up at a steady speed: two nodes over time, with marks located on the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.holding import ride_at
from curves.roots import Array, Index, bracketed_root
from curves.stack import Stack
from curves.state import at_state, thermal

ACCURACY = 1e-5
SCALE = 100.0
STEADY_K_PER_S = 1e-7
"""Below this, in every setup, nothing more will happen."""


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
    """

    limit_s: Array
    limit_m: Array
    magnet_limit_s: Array
    end_s: Array
    end_winding_c: Array
    end_case_c: Array
    stops_m: Array


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
    from scipy.integrate import RK45

    heat, count = thermal(s), speed.size
    if count == 0:
        return March(*(np.zeros(0) for _ in range(7)))
    charge = s.values["setup.state_of_charge"]

    def rates(_: float, y: Array) -> Array:
        winding, case, _way = y.reshape(3, count)
        ridden = ride_at(at_state(s, charge, winding, case), speed)
        warming = heat.rates(ridden.speed, ridden.winding_w, ridden.no_load_w, winding, case)
        return np.concatenate((*warming, ridden.speed))

    start = np.concatenate((s.values["setup.winding_c"], s.values["setup.magnet_c"], 0 * speed))
    marks = np.concatenate((heat.limit_c, heat.magnet_limit_c, distance))
    solver = RK45(rates, 0.0, start, time, rtol=ACCURACY, atol=ACCURACY * SCALE, first_step=0.1)
    when = np.where(start >= marks, 0.0, np.nan)
    at = np.repeat(start[:, None], marks.size, axis=1)
    stops = np.full(count, np.nan)
    while solver.status == "running":
        problem = solver.step()
        if problem:
            raise RuntimeError(f"warming up could not be integrated: {problem}")
        new = np.flatnonzero(np.isnan(when) & (solver.y >= marks))
        if new.size:
            dense = solver.dense_output()
            when[new] = _crossings(dense, solver.t_old, solver.t, new, marks[new])
            at[:, new] = dense(when[new])
        moving = solver.f.reshape(3, count)
        still = (moving[2] <= 0) & np.isnan(stops)
        stops[still] = solver.y.reshape(3, count)[2, still]
        over = (~awaited | ~np.isnan(when.reshape(3, count))).all(axis=0) | ~np.isnan(stops)
        if over.all() or np.abs(moving[:2]).max(initial=0.0) < STEADY_K_PER_S:
            break
    return _result(when, at, solver.y, stops, count)


def _crossings(dense: object, start: float, end: float, at: Index, marks: Array) -> Array:
    """Times within a step at which components rise to their marks."""

    def short(t: Array, k: Index) -> Array:
        values = np.atleast_2d(dense(t))  # type: ignore[operator]
        return np.asarray(values[at[k], np.arange(k.size)] - marks[k])

    low, high = np.full(at.size, start), np.full(at.size, end)
    every = np.arange(at.size)
    f_low, f_high = np.minimum(short(low, every), 0.0), np.maximum(short(high, every), 0.0)
    return bracketed_root(short, low, high, f_low, f_high)


def _result(when: Array, at: Array, last: Array, stops: Array, count: int) -> March:
    hot, magnets, end = when.reshape(3, count)
    row = np.arange(count)
    done: NDArray[np.bool_] = ~np.isnan(end)
    way = at[2 * count + row, row]
    return March(
        limit_s=hot,
        limit_m=np.where(np.isnan(hot), np.nan, way),
        magnet_limit_s=magnets,
        end_s=end,
        end_winding_c=np.where(done, at[row, 2 * count + row], last[:count]),
        end_case_c=np.where(done, at[count + row, 2 * count + row], last[count : 2 * count]),
        stops_m=stops,
    )
