"""Warming up on a hill as it goes: temperatures along the way, for drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.holding import ride_at
from curves.parts.rig import Rig
from curves.roots import Array
from curves.stack import stack
from curves.state import at_state, rows, thermal
from curves.units import HOUR, PERCENT

ACCURACY = 1e-4
SCALE = 100.0
"""Of temperatures, °C, and of metres, for the absolute error."""
WITHIN = 6
"""Points in each step of the integration."""
LONGEST_S = 12 * HOUR


@dataclass(frozen=True)
class Tracks:
    """Setups on a hill; arrays of shape (setups, points), NaN where heat values are not given.

    Attributes:
        names: Name of each setup.
        time: Since the foot of the hill, s, shape (points,).
        way: Along the road, m.
        winding_c: °C.
        case_c: Case and magnets, °C.
    """

    names: tuple[str, ...]
    time: Array
    way: Array
    winding_c: Array
    case_c: Array


def hill_tracks(
    rigs: Sequence[Rig], grade: float, speed: float, distance: float, *, time: float = LONGEST_S
) -> Tracks:
    """Ride every setup up a hill, from the temperatures it states, with its charge held.

    Args:
        rigs: The setups; their own grade is left aside.
        grade: Tangent.
        speed: Road speed to be held, m/s, above 0; where it cannot be held, as fast as it goes.
        distance: Along the road, m, above 0; each goes on until all have come as far.
        time: The most that is looked at, s, above 0.

    Raises:
        ValueError: if speed, distance or time is not above 0.
        RuntimeError: if the warming cannot be integrated.
    """
    from scipy.integrate import RK45

    if not (speed > 0 and distance > 0 and time > 0):
        raise ValueError("a track needs a speed, a distance and a time above 0")
    every = stack(rigs).vary({"conditions.grade_percent": np.full(len(rigs), grade / PERCENT)})
    given = np.flatnonzero(thermal(every).known)
    s, count = rows(every, given), given.size
    heat, charge = thermal(s), s.values["setup.state_of_charge"]
    wanted = np.full(count, speed)

    def rates(_: float, y: Array) -> Array:
        winding, case, _way = y.reshape(3, count)
        ridden = ride_at(at_state(s, charge, winding, case), wanted)
        warming = heat.rates(ridden.speed, ridden.winding_w, ridden.no_load_w, winding, case)
        return np.concatenate((*warming, ridden.speed))

    start = np.concatenate((s.values["setup.winding_c"], s.values["setup.magnet_c"], 0 * wanted))
    times, states = [np.zeros(1)], [start[:, None]]
    if count:
        solver = RK45(rates, 0.0, start, time, rtol=ACCURACY, atol=ACCURACY * SCALE)
        while solver.status == "running":
            problem = solver.step()
            if problem:
                raise RuntimeError(f"warming up could not be integrated: {problem}")
            at = np.linspace(solver.t_old, solver.t, WITHIN + 1)[1:]
            times.append(at)
            states.append(solver.dense_output()(at))
            moving = solver.f.reshape(3, count)[2] > 0
            if np.all((solver.y.reshape(3, count)[2] >= distance) | ~moving):
                break
    drawn = np.concatenate(times)
    found = np.full((3, len(rigs), drawn.size), np.nan)
    found[:, given] = np.concatenate(states, axis=1).reshape(3, count, drawn.size)
    return Tracks(every.names, drawn, found[2], found[0], found[1])
