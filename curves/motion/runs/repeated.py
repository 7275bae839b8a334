"""The same run again and again with a pause between: what it does to the motor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from curves.motion.runs.coupled import coupled_runs
from curves.motion.runs.motion import STATES
from curves.motion.runs.results import Targets
from curves.motion.runs.riding import Ride
from curves.motion.state import Thermal, thermal
from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack


@dataclass(frozen=True)
class Repeated:
    """Repeated runs; arrays of shape (setups, runs).

    Attributes:
        names: Name of each setup.
        time: Of each run, s; NaN where the distance is not reached.
        winding_c: At the end of each run, °C; NaN where the motor's heat values are not given.
        case_c: At the end of each run, °C.
        charge: At the end of each run, 0 to 1; NaN where it is not followed.
        over_limit: First run, counted from 1, that ends above the winding's limit; NaN for none;
            shape (setups,).
    """

    names: tuple[str, ...]
    time: Array
    winding_c: Array
    case_c: Array
    charge: Array
    over_limit: Array


def repeated_runs(
    rigs: Sequence[Rig] | Stack,
    distance: float,
    pause_s: float,
    count: int,
    *,
    accuracy: float = 1e-6,
) -> Repeated:
    """The same run from rest, with the bike standing still between runs.

    Args:
        rigs: The setups, or a stack of them.
        distance: Length of a run, m.
        pause_s: Time at rest after each run, s.
        count: How many runs, 1 or more.
        accuracy: Of a step, relative.

    Raises:
        ValueError: if the pause is negative or the count below 1.
    """
    if count < 1 or pause_s < 0:
        raise ValueError("repeated runs need one run or more and a pause of at least 0 s")
    stacked = rigs if isinstance(rigs, Stack) else stack(rigs)
    heat = thermal(stacked)
    columns = []
    for _ in range(count):
        asked = Targets(speeds=(), distances=(distance,))
        ridden = coupled_runs(stacked, asked, accuracy=accuracy)
        charge, winding, case = _at_line(ridden.ride)
        columns.append((ridden.runs.distance_time[:, 0], charge, winding, case))
        winding, case = cooled(heat, winding, case, pause_s)
        state = {
            "setup.state_of_charge": charge,
            "setup.winding_c": winding,
            "setup.magnet_c": case,
        }
        stacked = replace(stacked, values={**stacked.values, **state})
    time, charge, winding, case = (np.stack(x, axis=1) for x in zip(*columns, strict=True))
    known = heat.known[:, None]
    over = winding > heat.limit_c[:, None]
    first = np.where(over.any(axis=1), np.argmax(over, axis=1) + 1.0, np.nan)
    return Repeated(
        names=stacked.names,
        time=time,
        winding_c=np.where(known, winding, np.nan),
        case_c=np.where(known, case, np.nan),
        charge=np.where(np.isnan(ridden.charge)[:, None], np.nan, charge),
        over_limit=first,
    )


def _at_line(ride: Ride) -> tuple[Array, Array, Array]:
    """Charge, winding and case where each setup ends its run, which others may go on with."""
    there = ~np.isnan(ride.reached[:, 0])
    state = np.where(there, ride.at[:, :, 0], ride.state)
    charge, winding, case = (state[STATES.index(n)] for n in ("charge", "winding_c", "case_c"))
    return charge, winding, case


def cooled(heat: Thermal, winding_c: Array, case_c: Array, time: float) -> tuple[Array, Array]:
    """Winding and case after standing still without current, °C; two linear nodes, exactly.

    Args:
        heat: Thermal values, shape (setups,).
        winding_c: At the start, °C, shape (setups,).
        case_c: At the start, °C, shape (setups,).
        time: s.
    """
    known = heat.known

    def of(x: Array) -> Array:
        return np.where(known, x, 1.0)

    inner, outer = of(heat.winding_to_case), of(heat.case_to_air)
    first, second = of(heat.winding_heat), of(heat.case_heat)
    a, b = -inner / first, inner / first
    c, d = inner / second, -(inner + outer) / second
    fast = (a + d) / 2 - np.hypot((a - d) / 2, np.sqrt(b * c))
    # By their product: their sum would lose the slow one beside one that is far faster.
    slow = inner / first * (outer / second) / fast
    x, y = winding_c - heat.air_c, case_c - heat.air_c
    decay_fast, decay_slow = np.exp(fast * time), np.exp(slow * time)
    # Both eigenvalues are real and apart, so the matrix exponential is a line between them.
    share = (decay_slow - decay_fast) / (slow - fast)
    base = decay_fast - share * fast
    warm = base * x + share * (a * x + b * y)
    shell = base * y + share * (c * x + d * y)
    return (
        np.where(known, heat.air_c + warm, winding_c),
        np.where(known, heat.air_c + shell, case_c),
    )
