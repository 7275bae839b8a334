"""Setups warming up at a steady speed, each in steps of its own length.

One setup's corner (a fold-back that sets in, a speed no longer held, a stall) then shortens no
other's steps, and a setup that is done costs nothing more. Steps are implicit in the temperatures:
however fast a light winding follows its case, a step is as long as accuracy alone allows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.motion.heat.rosenbrock import GAMMA, ORDER, STAGES, bent, pushed, trial
from curves.motion.state import Thermal, at_state, rows, thermal
from curves.numerics.roots import Array, Index
from curves.setups.stack import Stack
from curves.steady.part_load import ride_at

ACCURACY = 1e-6
SCALE = 100.0
"""A step may err by ``ACCURACY`` of this and the state itself, in K and m."""
FIRST_K = 5.0
"""The first step tried is as long as this rise would take."""
SHORTEST_S = 1e-6
"""A step this short is taken as it is: the setup stalls there, or settles at once."""
PROBE_K = 1e-3
"""Over which the growth of losses and speed with temperature is read."""
MOST_TRIES = 2000
"""Steps tried with one setup before it is given up; any usually needs 20 to 130."""


class Leap(NamedTuple):
    """Steps that some setups have taken; ``state`` and ``bend`` lead with winding, case, way."""

    at: Index
    time: Array
    step: Array
    state: Array
    bend: Array

    def states(self, share: Array, some: Index | slice = slice(None)) -> Array:
        """States, shape (3, n), a share of each of some steps on, 0 to 1, shape (n,)."""
        powers = share[:, None] ** np.arange(1, 4)
        moved = np.einsum("skp,kp->sk", self.bend[:, some], powers)
        there: Array = self.state[:, some] + moved
        return there


@dataclass
class WarmUp:
    """Where setups have come to, and at what rate they go on; arrays of shape (setups,).

    Attributes:
        s: The setups; their heat values must be given, their charge is held.
        speed: Road speed asked for, m/s; slower where it cannot be held.
        time: s.
        state: Winding, °C, case, °C, and way, m, shape (3, setups).
        ridden: Winding loss, W, no-load loss, W, and speed, m/s, there, shape (3, setups).
        slope: How they grow, per K of the winding and of the case, shape (2, 3, setups).
        step: Length of the next step tried, s.
        tries: Steps tried.
    """

    s: Stack
    speed: Array
    time: Array
    state: Array
    ridden: Array
    slope: Array
    step: Array
    tries: Index

    @classmethod
    def begin(cls, s: Stack, speed: Array) -> WarmUp:
        """From the temperatures that the setups state."""
        state = np.stack((s.values["setup.winding_c"], s.values["setup.magnet_c"], 0 * speed))
        count, none = speed.size, np.zeros((3, speed.size))
        made = cls(
            s,
            speed,
            np.zeros(count),
            state,
            none,
            np.zeros((2, 3, count)),
            np.zeros(count),
            np.zeros(count, dtype=np.intp),
        )
        every = np.arange(count)
        made._look(every, speed)
        fastest = np.abs(made.rate[:2]).max(axis=0, initial=0.0)
        made.step = FIRST_K / np.maximum(fastest, 1e-3)
        return made

    @property
    def rate(self) -> Array:
        """Of the state, per s, shape (3, setups)."""
        heat = thermal(self.s)
        return _flow(heat, self.state, self.ridden) / _capacity(heat)

    @property
    def exhausted(self) -> NDArray[np.bool_]:
        """Which setups have taken all the steps that are taken with one."""
        return self.tries >= MOST_TRIES

    def _look(self, at: Index, near: Array) -> None:
        """Note losses, speed and their growth where some setups have come to."""
        if not at.size:
            return
        probes = np.repeat(self.state[:, None, at], 3, axis=1)
        probes[0, 1] += PROBE_K
        probes[1, 2] += PROBE_K
        found = self._ride(probes.reshape(3, -1), np.tile(at, 3), np.tile(near, 3))
        here, *there = found.reshape(3, 3, at.size).swapaxes(0, 1)
        self.ridden[:, at] = here
        self.slope[..., at] = (np.stack(there) - here) / PROBE_K

    def _ride(self, state: Array, at: Index, near: Array) -> Array:
        s = rows(self.s, at)
        b = at_state(s, s.values["setup.state_of_charge"], state[0], state[1])
        ridden = ride_at(b, self.speed[at], near=near)
        return np.stack((ridden.winding_w, ridden.no_load_w, ridden.speed))

    def advance(self, at: Index, until: float) -> Leap:
        """Take one step with some setups; where it errs too much, shorten the next one instead.

        Args:
            at: Which setups, shape (n,).
            until: Time past which none goes, s.

        Returns:
            The steps taken.
        """
        heat = Thermal(*(x[at] for x in thermal(self.s)))
        h = np.minimum(self.step[at], until - self.time[at])
        start, ridden = self.state[:, at], self.ridden[:, at]
        moves = np.zeros((STAGES, *start.shape))
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            solve = _Matrix.of(heat, start, ridden, self.slope[..., at], GAMMA * h)
            for stage in range(STAGES):
                tried = trial(start, moves, stage)
                tried = np.where(np.isfinite(tried), tried, start)
                if stage:
                    ridden = self._ride(tried, at, ridden[2])
                flow = _flow(heat, tried, ridden)
                moves[stage] = solve(flow + _capacity(heat) * pushed(moves, stage) / h)
            end = trial(start, moves, STAGES)
            allowed = ACCURACY * (SCALE + np.maximum(np.abs(start), np.abs(end)))
            error = np.max(np.abs(moves[-1]) / allowed, axis=0)
        error = np.where(np.isfinite(error), error, np.inf)
        self.step[at] = h * np.clip(0.9 * np.maximum(error, 1e-9) ** (-1 / ORDER), 0.2, 5.0)
        self.tries[at] += 1
        good = np.flatnonzero((error <= 1) | ((h <= SHORTEST_S) & np.isfinite(error)))
        taken = at[good]
        bend = bent(moves, end - start)[:, good]
        leap = Leap(taken, self.time[taken], h[good], start[:, good], bend)
        self.time[taken] += h[good]
        self.state[:, taken] = end[:, good]
        self._look(taken, ridden[2, good])
        return leap


class _Matrix(NamedTuple):
    """The equations that every stage of a step solves, in W: what warms, less what flows.

    Written by what remains when the flow between winding and case is taken off, so that nothing
    is lost where that flow outweighs all the rest. Arrays of shape (n,).
    """

    winding: Array
    case: Array
    to_case: Array
    to_winding: Array
    speed: Array
    part: Array

    @classmethod
    def of(cls, heat: Thermal, state: Array, ridden: Array, slope: Array, part: Array) -> _Matrix:
        """At a state, for a step's ``part`` in s."""
        (winding, idle, speed), over = slope.swapaxes(0, 1), state[1] - heat.air_c
        # Wind grows with speed, and speed hangs on both temperatures.
        case = idle - heat.case_to_air_per_speed * over * speed
        flow = heat.winding_to_case
        return cls(
            winding=heat.winding_heat / part - winding.sum(axis=0),
            case=heat.case_heat / part + heat.to_air(ridden[2]) - case.sum(axis=0),
            to_case=flow + case[0],
            to_winding=flow + winding[1],
            speed=speed,
            part=part,
        )

    def __call__(self, flow: Array) -> Array:
        """Moves of winding and case, K, and of the way, m, that go with flows, shape (3, n)."""
        w, c, way = flow
        both = self.winding * self.case + self.winding * self.to_case + self.to_winding * self.case
        winding = (self.case * w + (self.to_case * w + self.to_winding * c)) / both
        case = (self.winding * c + (self.to_case * w + self.to_winding * c)) / both
        warmer = self.speed[0] * winding + self.speed[1] * case
        return np.stack((winding, case, self.part * (way + warmer)))


def _capacity(heat: Thermal) -> Array:
    """What a rate is multiplied by to give a flow: J/K of winding and case, 1 for the way."""
    return np.stack((heat.winding_heat, heat.case_heat, np.ones_like(heat.case_heat)))


def _flow(heat: Thermal, state: Array, ridden: Array) -> Array:
    """Heat into winding and case, W, and speed, m/s, shape (3, n)."""
    winding_w, no_load_w, speed = ridden
    inward = heat.winding_to_case * (state[0] - state[1])
    outward = heat.to_air(speed) * (state[1] - heat.air_c)
    return np.stack((winding_w - inward, inward + no_load_w - outward, speed))
