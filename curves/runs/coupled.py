"""Timed runs whose state moves: sag, charge and temperatures, by an event-located integration.

Slower than the quadrature and free of its assumption; with the state held both agree.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curves.parts.rig import Rig
from curves.roots import Array, Index
from curves.runs.motion import ENERGIES, STATES, Motion, motion
from curves.runs.quadrature import TIE, timed_runs
from curves.runs.results import Runs, Targets, sentences, trap_speed, with_trap
from curves.stack import Stack, stack

ACCURACY = 3e-9
"""Of a step, relative."""
SCALES = np.array((10.0, 100.0, 0.1, 100.0, 100.0, *(1e6,) * len(ENERGIES)))
"""What a step's accuracy is relative to where a state is near zero."""
LONGEST_S = 3600.0
RIDER_FROM = 1.0
"""Speed from which the rider's watts help, m/s."""
PATIENCE_S = 60.0
"""A speed that would not be reached in this time at the present acceleration is given up."""
AT_REST = 1e-4
"""Speed, m/s, below which a bike that does not accelerate stands."""


@dataclass
class Ride:
    """What an integration has come to: states over time, and when targets were reached.

    Attributes:
        time: Ends of the stretches integrated, s; one more than there are stretches.
        stretches: Interpolants of each, time in s to states of shape (states, setups) raveled.
        reached: Time, s, of each target, shape (setups, targets); NaN where not.
        at: States at that time, shape (states, setups, targets).
        state: Where the setups are now, shape (states, setups).
        gear: Position of the gear each is in, 0 the tallest.
        shift_ends: When each setup's last change of gear is over, s.
        marks: The speeds, m/s, and distances, m, to be timed.
        accuracy: Of a step, relative.
    """

    time: list[float]
    stretches: list[Any]
    reached: Array
    at: Array
    state: Array
    gear: Index
    shift_ends: Array
    marks: tuple[Array, Array]
    accuracy: float

    def states(self, times: Array) -> Array:
        """States at times within the ride, shape (states, setups, times)."""
        count = self.state.shape[1]
        out = np.empty((self.state.size, times.size))
        edges = np.array(self.time[1:-1])
        part = np.searchsorted(edges, times, side="right")
        for k in np.unique(part):
            out[:, part == k] = self.stretches[k](times[part == k])
        return out.reshape(len(STATES), count, times.size)


@dataclass(frozen=True)
class CoupledRuns:
    """Timed runs, and what they used.

    Attributes:
        runs: The splits.
        energy: J from the start to the end of the ride, by the names in ``ENERGIES`` and
            ``kinetic``, each of shape (setups,): ``cells + rider`` is the sum of the others.
        charge: At the end, 0 to 1; NaN where it is not followed.
        winding_c: At the end, °C.
        case_c: At the end, °C.
        ride: States over time, for traces.
    """

    runs: Runs
    energy: dict[str, Array]
    charge: Array
    winding_c: Array
    case_c: Array
    ride: Ride


def coupled_runs(
    rigs: Sequence[Rig] | Stack,
    targets: Targets | None = None,
    *,
    shift_s: float = 0.0,
    moving: bool = True,
    accuracy: float = ACCURACY,
) -> CoupledRuns:
    """Splits of a run from rest for every setup, while charge and temperatures move.

    Args:
        rigs: The setups, or a stack of them; a dozen take about a second.
        targets: Speeds and distances to be timed; the usual ones if left out.
        shift_s: Time without drive at each change of gear, s.
        moving: False holds the state, as the quadrature does.
        accuracy: Of a step, relative; ten thousand times this is about the error of a split in s.

    Returns:
        NaN and a sentence where a target is not reached. Temperatures stay where the motor's heat
        values are not given, charge where the pack is a source or the cells' capacity is not given.
    """
    asked = targets or Targets()
    stacked = rigs if isinstance(rigs, Stack) else stack(rigs)
    frozen = timed_runs(stacked, asked, shift_s=shift_s)
    m = motion(stacked, moving=moving)
    marks = np.concatenate((with_trap(asked.distances), [asked.roll_out]))
    ride = _start(m, (np.array(asked.speeds), marks), accuracy)
    horizon = _horizon(frozen)
    while True:
        _advance(m, ride, horizon, shift_s)
        if horizon >= LONGEST_S or not _pending(m, ride):
            break
        horizon = min(1.5 * horizon + 5, LONGEST_S)
    return _result(m, ride, asked, frozen)


def _horizon(frozen: Runs) -> float:
    times = np.concatenate((frozen.speed_time, frozen.distance_time), axis=1)
    usual = times[np.isfinite(times)].max(initial=1.0)
    return float(min(1.02 * usual + 1, LONGEST_S))


def _start(m: Motion, marks: tuple[Array, Array], accuracy: float) -> Ride:
    values, count = m.stacked.values, len(m.stacked.names)
    state = np.zeros((len(STATES), count))
    state[2] = values["setup.state_of_charge"]
    state[3], state[4] = values["setup.winding_c"], values["setup.magnet_c"]
    targets = marks[0].size + marks[1].size
    reached = np.full((count, targets), np.nan)
    reached[:, marks[0].size :][:, marks[1] == 0] = 0.0
    at = np.repeat(state[:, :, None], targets, axis=2)
    gears = m.stacked.ratios.shape[1]
    lowest = np.full(count, gears - 1)
    return Ride([0.0], [], reached, at, state, lowest, np.full(count, -np.inf), marks, accuracy)


def _advance(m: Motion, ride: Ride, until: float, shift_s: float) -> None:
    """Go on to a time, changing gear on the way."""
    while ride.time[-1] < until:
        now = ride.time[-1]
        corners = np.concatenate((ride.shift_ends, m.rise, m.stands))
        shifted = _stretch(m, ride, now, float(corners[corners > now].min(initial=until)))
        if shifted.any():
            real = _changes_ratio(m, ride.gear)
            ride.shift_ends[shifted & real] = ride.time[-1] + shift_s
            ride.gear = ride.gear - shifted


def _changes_ratio(m: Motion, gear: Index) -> NDArray[np.bool_]:
    rows, ratios = np.arange(gear.size), m.stacked.ratios
    return np.asarray(ratios[rows, gear] > ratios[rows, np.maximum(gear - 1, 0)])


def _stretch(m: Motion, ride: Ride, start: float, end: float) -> NDArray[np.bool_]:
    """Integrate until a time or a change of gear; returns which setups leave their gear."""
    from scipy.integrate import solve_ivp

    shape, gear = ride.state.shape, ride.gear
    shifting = ride.shift_ends > start
    waits = (gear > 0) & ~shifting
    over = _ahead(m, ride.state, gear, waits) <= 0
    if over.any():
        return np.asarray(over)

    def rates(t: float, y: Array) -> Array:
        return m.rates(t, y.reshape(shape), gear, shifting).ravel()

    def shift(_: float, y: Array) -> float:
        return float(np.min(_ahead(m, y.reshape(shape), gear, waits)))

    # The rider's push sets in with a jump, which is met exactly and not stepped over.
    slow = np.flatnonzero((m.stacked.of("bike.rider_power_w") > 0) & (ride.state[0] < RIDER_FROM))
    stops = [_crossing(shape, int(k), 0, RIDER_FROM) for k in slow]
    stops += [shift] if waits.any() else []
    for stop in stops:
        stop.terminal = True  # type: ignore[attr-defined]
    marks, speeds = np.concatenate(ride.marks), ride.marks[0].size
    open_ = np.argwhere(np.isnan(ride.reached) & ~np.isnan(marks))
    targets = [_crossing(shape, int(k), int(j >= speeds), float(marks[j])) for k, j in open_]
    got = solve_ivp(
        rates,
        (start, end),
        ride.state.ravel(),
        method="RK45",
        rtol=ride.accuracy,
        atol=np.repeat(ride.accuracy * SCALES, shape[1]),
        events=[*targets, *stops],
        dense_output=True,
        first_step=min(1e-2, end - start),
    )
    _note(ride, got, open_, slow)
    return np.asarray((got.status == 1) & (_ahead(m, ride.state, gear, waits) <= 1e-9))


def _note(ride: Ride, got: Any, open_: Index, slow: Index) -> None:
    """Take in what a stretch came to: its end, targets reached, riders who have begun to help."""
    if got.status < 0:
        raise RuntimeError(f"the run could not be integrated: {got.message}")
    shape = ride.state.shape
    for (k, j), times, states in zip(open_, got.t_events, got.y_events, strict=False):
        if len(times):
            ride.reached[k, j] = times[0]
            ride.at[:, k, j] = np.asarray(states[0]).reshape(shape)[:, k]
    ride.time.append(float(got.t[-1]))
    ride.stretches.append(got.sol)
    ride.state = got.y[:, -1].reshape(shape)
    for k, times in zip(slow, got.t_events[len(open_) :], strict=False):
        if len(times):
            ride.state[0, k] = max(ride.state[0, k], RIDER_FROM)


def _crossing(
    shape: tuple[int, ...], setup: int, row: int, mark: float
) -> Callable[[float, Array], float]:
    """Zero where a state of a setup reaches a mark, rising."""
    place = row * shape[1] + setup

    def short(_: float, y: Array) -> float:
        return float(y[place]) - mark

    short.direction = 1  # type: ignore[attr-defined]
    return short


def _ahead(m: Motion, y: Array, gear: Index, waits: NDArray[np.bool_]) -> Array:
    """How much harder than the next taller gear each setup pulls, relative; 1 where not asked."""
    if not waits.any():
        return np.ones(gear.size)
    v = np.maximum(y[0], 0.0)[:, None]
    here, taller = (
        np.nan_to_num(m.push_at(y, g).motor(v)[1].rim_force[:, 0])
        for g in (gear, np.maximum(gear - 1, 0))
    )
    size = np.maximum(np.maximum(here, taller), 1e-9)
    lead = np.where(here > 0, (here * (1 - TIE) - taller) / size, -1.0)
    return np.where(waits, lead, 1.0)


def _pending(m: Motion, ride: Ride) -> bool:
    """Whether a target may still be reached."""
    idle = np.zeros(ride.state.shape[1], dtype=np.bool_)
    rates = m.rates(ride.time[-1], ride.state, ride.gear, idle)
    speeds = ride.marks[0].size
    open_ = np.isnan(ride.reached) & ~np.isnan(np.concatenate(ride.marks))
    short = ride.marks[0] - ride.state[0][:, None]
    faster = open_[:, :speeds] & (short < PATIENCE_S * rates[0][:, None])
    rolling = (ride.state[0] > AT_REST) | (rates[0] > 0)
    return bool(faster.any() | np.any(open_[:, speeds:] & rolling[:, None]))


def _result(m: Motion, ride: Ride, asked: Targets, frozen: Runs) -> CoupledRuns:
    speeds, d = len(asked.speeds), len(asked.distances)
    clock = ride.reached[:, -1:]
    t_v, t_x = ride.reached[:, :speeds], ride.reached[:, speeds:-1]
    end = np.where(np.isnan(frozen.end_speed), np.nan, np.maximum(ride.state[0], 0.0))
    times = np.concatenate((t_v, t_x[:, :d]), axis=1)
    dead = np.isnan(frozen.end_speed)
    runs = Runs(
        names=m.stacked.names,
        targets=asked,
        speed_time=np.maximum(t_v - clock, 0.0),
        speed_distance=np.where(np.isnan(t_v), np.nan, ride.at[1, :, :speeds]),
        distance_time=np.maximum(t_x[:, :d] - clock, 0.0),
        distance_speed=np.where(np.isnan(t_x[:, :d]), np.nan, ride.at[0, :, speeds : speeds + d]),
        trap_speed=trap_speed(t_x),
        end_speed=end,
        notes=tuple(
            frozen.notes[k] if dead[k] else sentences(asked, end[k], 0.0, times[k])
            for k in range(end.size)
        ),
    )
    y = ride.state
    p = m.push_at(y, ride.gear)
    mass = p.net(np.maximum(y[0], 0.0)[:, None])[1][:, 0]
    energy = {name: y[STATES.index(name)] for name in ENERGIES}
    energy["kinetic"] = 0.5 * mass * y[0] ** 2
    followed = np.isfinite(m.full_charge)
    return CoupledRuns(runs, energy, np.where(followed, y[2], np.nan), y[3], y[4], ride)
