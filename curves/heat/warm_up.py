"""Setups warming up at a steady speed, each in steps of its own length.

One setup's corner (a fold-back that sets in, a speed no longer held, a stall) then shortens no
other's steps, and a setup that is done costs nothing more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from curves.holding import ride_at
from curves.roots import Array, Index
from curves.stack import Stack
from curves.state import at_state, rows, thermal

ACCURACY = 1e-6
SCALE = 100.0
"""A step may err by ``ACCURACY`` of this and the state itself, in K and m."""
FIRST_K = 5.0
"""The first step tried is as long as this rise would take."""
SHORTEST_S = 1e-6
"""A step this short is taken as it is: the setup stalls there."""


class Leap(NamedTuple):
    """Steps that some setups have taken; ``state`` and ``bend`` lead with winding, case, way."""

    at: Index
    time: Array
    step: Array
    state: Array
    bend: Array

    def states(self, share: Array, some: Index | slice = slice(None)) -> Array:
        """States, shape (3, n), a share of each of some steps on, 0 to 1, shape (n,)."""
        powers = share[:, None] ** np.arange(1, 5)
        moved = np.einsum("skp,kp->sk", self.bend[:, some], powers)
        there: Array = self.state[:, some] + self.step[some] * moved
        return there


@dataclass
class WarmUp:
    """Where setups have come to, and at what rate they go on; arrays of shape (setups,).

    Attributes:
        s: The setups; their heat values must be given, their charge is held.
        speed: Road speed asked for, m/s; slower where it cannot be held.
        time: s.
        state: Winding, °C, case, °C, and way, m, shape (3, setups).
        rate: The same a second.
        step: Length of the next step tried, s.
    """

    s: Stack
    speed: Array
    time: Array
    state: Array
    rate: Array
    step: Array

    @classmethod
    def begin(cls, s: Stack, speed: Array) -> WarmUp:
        """From the temperatures that the setups state."""
        state = np.stack((s.values["setup.winding_c"], s.values["setup.magnet_c"], 0 * speed))
        made = cls(s, speed, np.zeros(speed.size), state, np.zeros_like(state), 0 * speed)
        made.rate = made._rates(state, np.arange(speed.size), speed)
        fastest = np.abs(made.rate[:2]).max(axis=0, initial=0.0)
        made.step = FIRST_K / np.maximum(fastest, 1e-3)
        return made

    def _rates(self, state: Array, at: Index, near: Array) -> Array:
        s, (winding, case, _) = rows(self.s, at), state
        b = at_state(s, s.values["setup.state_of_charge"], winding, case)
        ridden = ride_at(b, self.speed[at], near=near)
        loss = (ridden.winding_w, ridden.no_load_w)
        warming = thermal(s).rates(ridden.speed, *loss, winding, case)
        return np.stack((*warming, ridden.speed))

    def advance(self, at: Index, until: float) -> Leap:
        """Take one step with some setups; where it errs too much, shorten the next one instead.

        Args:
            at: Which setups, shape (n,).
            until: Time past which none goes, s.

        Returns:
            The steps taken.

        Source: the pair of formulae of J. R. Dormand, P. J. Prince, J. Comp. Appl. Math. 6, 1980,
        19-26, with the coefficients that scipy carries.
        """
        from scipy.integrate import RK45

        h, start = np.minimum(self.step[at], until - self.time[at]), self.state[:, at]
        slopes = np.zeros((RK45.n_stages + 1, *start.shape))
        slopes[0] = self.rate[:, at]
        for stage, weights in enumerate(RK45.A[1:], start=1):
            trial = start + h * np.tensordot(weights[:stage], slopes[:stage], 1)
            slopes[stage] = self._rates(trial, at, slopes[stage - 1, 2])
        end = start + h * np.tensordot(RK45.B, slopes[:-1], 1)
        slopes[-1] = self._rates(end, at, slopes[-2, 2])
        allowed = ACCURACY * (SCALE + np.maximum(np.abs(start), np.abs(end)))
        error = np.max(np.abs(h * np.tensordot(RK45.E, slopes, 1)) / allowed, axis=0)
        self.step[at] = h * np.clip(0.9 * np.maximum(error, 1e-9) ** -0.2, 0.2, 5.0)
        good = np.flatnonzero((error <= 1) | (h <= SHORTEST_S))
        taken = at[good]
        bend = np.einsum("jsk,jp->skp", slopes[..., good], RK45.P)
        leap = Leap(taken, self.time[taken], h[good], start[:, good], bend)
        self.time[taken] += h[good]
        self.state[:, taken], self.rate[:, taken] = end[:, good], slopes[-1][:, good]
        return leap
