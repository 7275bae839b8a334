"""An integration of setups on the road, stretch by stretch between the corners of their force.

A stretch ends where a gear changes, the rider begins to help, the torque has risen, or a run comes
to its end so abruptly (a ceiling on speed, a force that falls off a cliff) that following it there
would take endless steps; from then on such a setup holds the speed its state allows.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curves.motion.runs.ending import HAIR, end_speed
from curves.motion.runs.motion import ENERGIES, STATES, Mode, Motion
from curves.motion.runs.quadrature import TIE, Frozen
from curves.motion.tractive_force import Push
from curves.numerics.roots import Array, Index
from curves.pace import tell

SCALES = np.array((10.0, 100.0, 0.1, 100.0, 100.0, *(1e6,) * len(ENERGIES)))
"""What a step's accuracy is relative to where a state is near zero."""
ABRUPT_S = 0.1
"""A shorter time constant at the end of a run would hold an integration to steps as short."""
CLOSE = 1e-6
"""Share of its end speed within which an abrupt run has come to it."""
MOMENT_S = 1e-9
"""Times this close together are one."""
RIDER_FROM = 1.0
"""Speed from which the rider's watts help, m/s."""
PATIENCE_S = 60.0
"""A speed that would not be reached in this time at the present acceleration is given up."""
MOST_LOOKS = 20_000
"""Rates asked for in one ride before it is given up; a setup's takes 500 to 5,000 as a rule."""
TOO_ABRUPT = "its force or temperatures jump too often to be followed"
AT_REST = 1e-4
"""Speed, m/s, below which a bike that does not accelerate stands."""


class _GaveUpError(Exception):
    """Rates were asked for too often."""


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
        abrupt: Which come to their end too abruptly to be followed there: at a ceiling, or where
            force falls steeply.
        settled: Which have come to it.
        marks: The speeds, m/s, and distances, m, to be timed.
        accuracy: Of a step, relative.
        looks: How often rates were asked for.
        given_up: Whether there were ``MOST_LOOKS`` before the end.
    """

    time: list[float]
    stretches: list[Any]
    reached: Array
    at: Array
    state: Array
    gear: Index
    shift_ends: Array
    abrupt: NDArray[np.bool_]
    settled: NDArray[np.bool_]
    marks: tuple[Array, Array]
    accuracy: float
    looks: int = 0
    given_up: bool = False

    def states(self, times: Array) -> Array:
        """States at times within the ride, shape (states, setups, times)."""
        count = self.state.shape[1]
        out = np.repeat(self.state.reshape(-1, 1), times.size, axis=1)
        if not self.stretches:
            return out.reshape(len(STATES), count, times.size)
        edges = np.array(self.time[1:-1])
        part = np.searchsorted(edges, times, side="right")
        for k in np.unique(part):
            out[:, part == k] = self.stretches[k](times[part == k])
        return out.reshape(len(STATES), count, times.size)


def start(m: Motion, marks: tuple[Array, Array], frozen: Frozen, accuracy: float) -> Ride:
    """A ride about to begin, from rest.

    Args:
        m: The setups.
        marks: Speeds, m/s, and distances, m, to be timed; NaN for none.
        frozen: Their runs with the state held, which tell how they end.
        accuracy: Of a step, relative.
    """
    values, count = m.stacked.values, len(m.stacked.names)
    state = np.zeros((len(STATES), count))
    state[2] = values["setup.state_of_charge"]
    state[3], state[4] = values["setup.winding_c"], values["setup.magnet_c"]
    targets = marks[0].size + marks[1].size
    reached = np.full((count, targets), np.nan)
    reached[:, marks[0].size :][:, marks[1] == 0] = 0.0
    at = np.repeat(state[:, :, None], targets, axis=2)
    gears = m.stacked.ratios.shape[1]
    abrupt = (frozen.end.held | (frozen.constant < ABRUPT_S)) & ~np.isnan(frozen.end.speed)
    return Ride(
        time=[0.0],
        stretches=[],
        reached=reached,
        at=at,
        state=state,
        gear=np.full(count, gears - 1),
        shift_ends=np.full(count, -np.inf),
        abrupt=abrupt,
        settled=np.zeros(count, dtype=np.bool_),
        marks=marks,
        accuracy=accuracy,
    )


def advance(m: Motion, ride: Ride, until: float, shift_s: float) -> None:
    """Go on to a time, changing gear on the way and settling at the end of a run.

    Args:
        m: The setups.
        ride: What they have come to; it is taken on.
        until: Time to go on to, s.
        shift_s: Time without drive at each change of gear, s.
    """
    # Every turn asks for rates, so their bound is a bound on turns.
    while ride.time[-1] < until and not ride.given_up:
        now = ride.time[-1]
        corners = np.concatenate((ride.shift_ends, m.rise, m.stands))
        ahead = corners[corners > now + MOMENT_S]
        shifted = _stretch(m, ride, now, float(ahead.min(initial=until)))
        if shifted.any():
            real = _changes_ratio(m, ride.gear)
            ride.shift_ends[shifted & real] = ride.time[-1] + shift_s
            ride.gear = ride.gear - shifted
        new = _short_of_end(m, ride, ride.state) <= 0
        ride.settled |= new
        ride.state[0] = np.where(new, np.minimum(ride.state[0], m.ceiling), ride.state[0])


def _short_of_end(m: Motion, ride: Ride, y: Array) -> Array:
    """What each abrupt run still lacks to its end, m/s; infinite where that is not asked."""
    asked = ride.abrupt & ~ride.settled & (ride.shift_ends <= ride.time[-1] + MOMENT_S)
    short = np.full(asked.size, np.inf)
    # Half a hair past a ceiling: a target at the ceiling is met before, a gear left after it.
    short[asked] = m.ceiling[asked] * (1 + HAIR / 2) - y[0, asked]
    rows = np.flatnonzero(asked & np.isinf(m.ceiling))
    if rows.size:
        end = end_speed(m.push_at(y, ride.gear).batch.pick(rows))
        goes_on = _taller(m, y, ride.gear).pick(rows).net(end[:, None])[0][:, 0] > 0
        short[rows] = np.where(
            goes_on & (ride.gear[rows] > 0), np.inf, end * (1 - CLOSE) - y[0, rows]
        )
    return short


def _taller(m: Motion, y: Array, gear: Index) -> Push:
    """The setups in the next taller gear, where there is one."""
    return m.push_at(y, np.maximum(gear - 1, 0))


def _changes_ratio(m: Motion, gear: Index) -> NDArray[np.bool_]:
    rows, ratios = np.arange(gear.size), m.stacked.ratios
    return np.asarray(ratios[rows, gear] > ratios[rows, np.maximum(gear - 1, 0)])


def _stretch(m: Motion, ride: Ride, start: float, end: float) -> NDArray[np.bool_]:
    """Integrate until a time or a change of gear; returns which setups leave their gear."""
    from scipy.integrate import solve_ivp

    shape, gear = ride.state.shape, ride.gear
    shifting = ride.shift_ends > start + MOMENT_S
    waits = (gear > 0) & ~shifting & ~ride.settled
    over = _ahead(m, ride.state, gear, waits) <= 0
    if over.any():
        return np.asarray(over)

    mode = Mode(gear, shifting, ride.settled.copy(), np.full(gear.size, np.nan))

    def rates(t: float, y: Array) -> Array:
        ride.looks += 1
        tell("seconds ridden", int(t), math.ceil(end))
        if ride.looks > MOST_LOOKS:
            raise _GaveUpError
        return m.rates(t, y.reshape(shape), mode).ravel()

    def settle(_: float, y: Array) -> float:
        return float(np.min(_short_of_end(m, ride, y.reshape(shape))))

    def shift(_: float, y: Array) -> float:
        return float(np.min(_ahead(m, y.reshape(shape), gear, waits)))

    # The rider's push sets in with a jump, which is met exactly and not stepped over.
    slow = np.flatnonzero((m.stacked.of("bike.rider_power_w") > 0) & (ride.state[0] < RIDER_FROM))
    stops = [_crossing(shape, int(k), 0, RIDER_FROM) for k in slow]
    stops += [shift] if waits.any() else []
    stops += [settle] if np.isfinite(_short_of_end(m, ride, ride.state)).any() else []
    for stop in stops:
        stop.terminal = True  # type: ignore[attr-defined]
    marks, speeds = np.concatenate(ride.marks), ride.marks[0].size
    open_ = np.argwhere(np.isnan(ride.reached) & ~np.isnan(marks))
    targets = [_crossing(shape, int(k), int(j >= speeds), float(marks[j])) for k, j in open_]
    how: dict[str, Any] = {"method": "RK45"}
    if m.stiff:
        how = {"method": "Radau", "jac": lambda _, y: m.jacobian(y.reshape(shape))}
    try:
        got = solve_ivp(
            rates,
            (start, end),
            ride.state.ravel(),
            rtol=ride.accuracy,
            atol=np.repeat(ride.accuracy * SCALES, shape[1]),
            events=[*targets, *stops],
            dense_output=True,
            first_step=min(1e-2, end - start),
            **how,
        )
    except _GaveUpError:
        ride.given_up = True
        return np.zeros(gear.size, dtype=np.bool_)
    _note(ride, got, open_, slow)
    # A hair on, for at the ceiling of a gear the stop may be on either side of it.
    past = ride.state * np.where(np.arange(shape[0]) == 0, 1 + 2 * HAIR, 1.0)[:, None]
    return np.asarray((got.status == 1) & (_ahead(m, past, gear, waits) <= 10 * HAIR))


def _note(ride: Ride, got: Any, open_: Index, slow: Index) -> None:
    """Take in what a stretch came to: its end, targets reached, riders who have begun to help."""
    ride.given_up = got.status < 0
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
    next_gear = _taller(m, y, gear)
    here, taller = (
        np.nan_to_num(p.motor(v)[1].rim_force[:, 0]) for p in (m.push_at(y, gear), next_gear)
    )
    size = np.maximum(np.maximum(here, taller), 1e-9)
    lead = np.where(here > 0, (here * (1 - TIE) - taller) / size, -1.0)
    # A gear that would only let the bike slow down is not taken.
    return np.where(waits & (next_gear.net(v)[0][:, 0] > 0), lead, 1.0)


def pending(m: Motion, ride: Ride) -> bool:
    """Whether a target may still be reached.

    Args:
        m: The setups.
        ride: What they have come to.
    """
    idle = np.zeros(ride.state.shape[1], dtype=np.bool_)
    ends = np.full(idle.size, np.nan)
    rates = m.rates(ride.time[-1], ride.state, Mode(ride.gear, idle, ride.settled, ends))
    speeds = ride.marks[0].size
    open_ = np.isnan(ride.reached) & ~np.isnan(np.concatenate(ride.marks))
    short = ride.marks[0] - ride.state[0][:, None]
    faster = open_[:, :speeds] & (short < PATIENCE_S * rates[0][:, None])
    rolling = (ride.state[0] > AT_REST) | (rates[0] > 0)
    return bool(faster.any() | np.any(open_[:, speeds:] & rolling[:, None]))
