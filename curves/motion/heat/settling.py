"""Settled temperatures: where heat made and heat carried off balance, if they do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.motion.state import Thermal, at_state, hottest, rows, thermal
from curves.numerics.roots import Array, Index
from curves.pace import tell
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.steady.part_load import Ridden, ride_at
from curves.units import PERCENT

PROBE_K = 0.01
LONGEST_STEP_K = 60.0
CLOSE_K = 1e-7
STEPS = 80
NEAR_K = 0.01
"""A last step as short as this has found the temperature all the same."""


@dataclass(frozen=True)
class Settled:
    """Settled temperatures, °C; arrays of shape (setups,).

    Attributes:
        names: Name of each setup.
        winding_c: Infinite where no temperature settles that a motor could live at; NaN where the
            motor's heat values are not given, the bike cannot start, or none was found.
        case_c: Of case and magnets, likewise.
        speed: What is held at that temperature, m/s.
        held: Whether that is the speed asked for.
        over: Whether the winding ends above its limit.
        magnets_over: Whether the magnets end above theirs.
    """

    names: tuple[str, ...]
    winding_c: Array
    case_c: Array
    speed: Array
    held: NDArray[np.bool_]
    over: NDArray[np.bool_]
    magnets_over: NDArray[np.bool_]


def settled(rigs: Sequence[Rig] | Stack, speed: Array, *, slower: bool = True) -> Settled:
    """Temperatures that a steady speed on the setups' own road settles at.

    Where the motor cannot hold the speed, cold or hot, it runs flat out at the speed it does hold.

    Args:
        rigs: The setups, or a stack of them; state of charge as they state it.
        speed: Road speed, m/s, shape (setups,) or one for all.
        slower: False counts a speed that cannot be held hot as one at which nothing settles.
    """
    s = rigs if isinstance(rigs, Stack) else stack(rigs)
    v = np.broadcast_to(np.asarray(speed, dtype=np.float64), (len(s.names),)).copy()
    heat = thermal(s)
    cold = ride_at(at_state(s, s.values["setup.state_of_charge"], heat.air_c, heat.air_c), v)
    starts = (cold.speed > 0) | (v == 0)
    every = np.flatnonzero(heat.known & starts & (cold.held | slower))
    winding = np.full(v.size, np.nan)
    winding[every] = _settle(rows(s, every), v[every], slower)
    warm = np.where(np.isfinite(winding), winding, heat.air_c)
    ridden, case = _balance(s, heat, v, warm, slower)
    case = np.where(np.isfinite(winding), case, winding)
    return Settled(
        names=s.names,
        winding_c=winding,
        case_c=case,
        speed=ridden.speed,
        held=ridden.held,
        over=winding > heat.limit_c,
        magnets_over=case > heat.magnet_limit_c,
    )


def _balance(
    s: Stack, heat: Thermal, speed: Array, winding_c: Array, slower: bool
) -> tuple[Ridden, Array]:
    """The ride at a winding temperature, and the case's temperature that goes with it, °C.

    What flows into the case leaves it: it is a mean of winding and air, raised by no-load loss.
    """
    charge = s.values["setup.state_of_charge"]
    ridden = ride_at(at_state(s, charge, winding_c, winding_c), speed, slower=slower)
    case = winding_c
    # No-load loss hangs on speed alone, and speed on the case by way of flux: a few rounds do.
    for _ in range(4):
        outer = heat.to_air(ridden.speed)
        inner = np.where(heat.known, heat.winding_to_case, 1.0)
        outer = np.where(heat.known, outer, 1.0)
        new = (inner * winding_c + ridden.no_load_w + outer * heat.air_c) / (inner + outer)
        moved = np.max(np.abs(new - case), initial=0.0)
        case = new
        if moved < 1e-10:
            break
        slowed = ridden.speed
        ridden = ride_at(at_state(s, charge, winding_c, case), speed, slower=slower)
        if np.array_equal(slowed, ridden.speed):
            break
    return ridden, case


def _settle(s: Stack, speed: Array, slower: bool) -> Array:
    """The lowest winding temperature at which heat in is heat out, by Newton from below.

    Heat made grows ever faster with temperature, so no step passes the root; where its growth
    outruns what is carried off there is no root ahead, and where a hot motor stalls there is none.
    """
    heat, top = thermal(s), hottest(s)

    def gain(x: Array, at: Index) -> tuple[Array, NDArray[np.bool_]]:
        h = Thermal(*(y[at] for y in heat))
        ridden, case = _balance(rows(s, at), h, speed[at], x, slower)
        stalled = (ridden.speed <= 0) & (speed[at] > 0)
        return ridden.winding_w - h.winding_to_case * (x - case), stalled

    x = np.array(heat.air_c)
    result = np.full(speed.size, np.inf)
    at = np.arange(speed.size)
    low, low_gain = np.copy(x), np.full(speed.size, np.nan)
    step = np.zeros(0)
    for _ in range(STEPS):
        if not at.size:
            break
        tell("setups settled", speed.size - at.size, speed.size)
        both, stalled = gain(np.concatenate((x[at], x[at] + PROBE_K)), np.concatenate((at, at)))
        now, slope = both[: at.size], (both[at.size :] - both[: at.size]) / PROBE_K
        ahead = now > 0
        low[at], low_gain[at] = np.where(ahead, (x[at], now), (low[at], low_gain[at]))
        with np.errstate(divide="ignore", invalid="ignore"):
            newton = np.where(slope < 0, -now / slope, np.inf)
            # Past the root all the same: back between the last point below it and this one.
            secant = (low[at] - x[at]) * now / (now - low_gain[at])
        back = np.where(np.isnan(secant), -np.abs(newton), -np.abs(secant))
        step = np.where(ahead, np.minimum(newton, LONGEST_STEP_K), back)
        gone = stalled[: at.size] | (ahead & (x[at] >= top[at]))
        done = ~gone & (np.abs(step) < CLOSE_K)
        result[at[done]] = x[at[done]] + step[done]
        x[at] = np.minimum(x[at] + np.where(done, 0.0, step), top[at])
        at, step = at[~done & ~gone], step[~done & ~gone]
    result[at] = np.where(np.abs(step) < NEAR_K, x[at], np.nan)
    return result


@dataclass(frozen=True)
class HeatMap:
    """Settled temperatures over speed and grade.

    Attributes:
        names: Name of each setup.
        speed: m/s, shape (speeds,).
        grade: Tangents, shape (grades,).
        winding_c: °C, shape (setups, grades, speeds); infinite where nothing settles, NaN where
            the motor cannot hold that speed cold or its heat values are not given.
        case_c: °C, same shape.
        limit_c: Temperature the winding may reach, °C, shape (setups,); infinite if not given.
    """

    names: tuple[str, ...]
    speed: Array
    grade: Array
    winding_c: Array
    case_c: Array
    limit_c: Array


def heat_map(rigs: Sequence[Rig], speed: Array, grade: Array) -> HeatMap:
    """Settled temperatures of every setup over speed and grade.

    Args:
        rigs: The setups; their own grade is left aside.
        speed: Road speeds, m/s, shape (speeds,).
        grade: Grades as tangents, shape (grades,).
    """
    s = stack(rigs)
    shape = (len(rigs), grade.size, speed.size)
    which, i, j = (x.ravel() for x in np.indices(shape))
    cells = rows(s, which).vary({"conditions.grade_percent": grade[i] / PERCENT})
    v = speed[j]
    found = settled(cells, v, slower=False)
    return HeatMap(
        names=s.names,
        speed=speed,
        grade=grade,
        winding_c=found.winding_c.reshape(shape),
        case_c=found.case_c.reshape(shape),
        limit_c=thermal(s).limit_c,
    )
