"""Forces, powers and rates of setups that are moving, in whatever state they have come to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.motion.runs.ending import end_speed, rotor_ceiling
from curves.motion.state import Thermal, at_state, capacity, thermal
from curves.motion.tractive_force import Push, push
from curves.numerics.roots import Array, Index
from curves.parts.bike import slope_force
from curves.parts.conditions import GRAVITY
from curves.setups.batch import Batch
from curves.setups.stack import Stack
from curves.steady.envelope import Drawn, input_power_at
from curves.steady.part_load import hold, pack_current
from curves.steady.runs_on import dragged_force

ENERGIES = (
    "cells",
    "rider",
    "pack",
    "standby",
    "controller",
    "winding",
    "no-load",
    "gears",
    "road",
    "climb",
)
"""Where energy comes from (the first two) and goes to; with motion they add up to nothing."""
NEAR = 0.01
"""Share of a ceiling by which a step may probe past it."""
STATES = ("speed", "distance", "charge", "winding_c", "case_c", *ENERGIES)
HEATED = (STATES.index("winding_c"), STATES.index("case_c"))
BRISK = 20.0
"""A speed at which a run moves, m/s, for how fast a case cools."""
STIFF_PER_S = 10.0
"""Faster than this an explicit step would be held to a third of a second and less."""


class Drive(NamedTuple):
    """What the motor does at an instant; arrays of shape (setups,), SI."""

    force: Array
    net: Array
    mass: Array
    power: Array
    winding_w: Array
    controller_w: Array
    no_load_w: Array
    gears_w: Array


class Mode(NamedTuple):
    """How setups are driven for a while; shape (setups,).

    Attributes:
        gear: Position of the gear each is in, 0 the tallest.
        shifting: Which are between gears.
        settled: Which hold the speed their run ends at, as it moves with their state.
        ends: That speed where it was last asked for, m/s, NaN for not yet; kept up to date.
    """

    gear: Index
    shifting: NDArray[np.bool_]
    settled: NDArray[np.bool_]
    ends: Array


@dataclass(frozen=True)
class Motion:
    """Setups on the road: what moves their state.

    Attributes:
        stacked: The setups.
        heat: Their thermal values.
        full_charge: C, infinite where charge is not followed.
        rise: Time in which torque rises, s; 0 for at once.
        full_force: Rim force that the rise leads to, N.
        stands: Time until the rising force moves the bike, s.
        ceiling: Ceiling on speed that ends a run, m/s; infinite where none does.
        tallest: Ratio of the tallest gear, rotor radians per wheel radian.
    """

    stacked: Stack
    heat: Thermal
    full_charge: Array
    rise: Array
    full_force: Array
    stands: Array
    ceiling: Array
    tallest: Array

    def push_at(self, y: Array, gear: Index) -> Push:
        """The setups in their present state and gear.

        Args:
            y: Rows named by ``STATES``, shape (states, setups).
            gear: Positions of gears, shape (setups,).
        """
        p = push(self.stacked, at_state(self.stacked, y[2], y[3], y[4]))
        if p.batch.ratio.shape[1] == 1:
            return p
        ratio = np.take_along_axis(p.batch.ratio, gear[:, None], 1)
        inertia = np.take_along_axis(p.inertia, gear[:, None], 1)
        return p._replace(batch=p.batch._replace(ratio=ratio), inertia=inertia)

    def jacobian(self, y: Array) -> Array:
        """Growth of the rates of heat with temperatures, as a matrix over all states of ``y``.

        The rest stays out: it follows slowly enough for any method.

        Args:
            y: Rows named by ``STATES``, shape (states, setups).
        """
        count = y.shape[1]
        whole = np.zeros((y.size, y.size))
        heat = self.heat.jacobian(np.maximum(y[0], 0.0))
        every = np.arange(count)
        for i, row in enumerate(HEATED):
            for j, column in enumerate(HEATED):
                whole[row * count + every, column * count + every] = heat[i, j]
        return whole

    @property
    def stiff(self) -> bool:
        """Whether some motor's temperatures follow each other too fast for explicit steps."""
        fastest = np.abs(self.heat.jacobian(np.full(self.ceiling.size, BRISK))).max(initial=0.0)
        return bool(fastest > STIFF_PER_S)

    def ceiling_in(self, p: Push) -> Array:
        """Speed at which driving in a gear ends, by a change of gear or the end of the run, m/s."""
        changes = p.batch.ratio[:, 0] > self.tallest
        return np.where(changes, np.minimum(rotor_ceiling(p.batch), self.ceiling), self.ceiling)

    def drive(self, p: Push, time: float, v: Array, shifting: NDArray[np.bool_]) -> Drive:
        """What the motor does at road speeds.

        Args:
            p: The setups in their present state.
            time: s since the torque was asked for.
            v: Road speed, m/s, shape (setups,).
            shifting: Which setups are between gears, shape (setups,).
        """
        b, column = p.batch, v[:, None]
        # Just past a ceiling still as at it, so that it is met by a smooth force.
        ceiling = self.ceiling_in(p)
        near = (v > ceiling) & (v < ceiling * (1 + NEAR))
        driven = np.where(near, ceiling, v)
        force, drawn = p.motor(driven[:, None])
        risen = np.where(self.rise > time, self.full_force * time / _span(self.rise), np.inf)
        force = np.minimum(force, risen[:, None])
        off = np.isnan(drawn.rim_force[:, 0]) | shifting
        held_back = ~off & (force < drawn.rim_force)[:, 0]
        mass = np.take_along_axis(p.inertia, drawn.gear, 1)
        net = force + b.road.rider(column) - b.road.force(column)
        if shifting.any():
            force = np.where(shifting[:, None], 0.0, force)
            net = np.where(shifting[:, None], p.coasting(column), net)
            mass = np.where(shifting[:, None], p.rolling, mass)
        parts = _powers(p, drawn)
        rows = np.flatnonzero(held_back)
        if rows.size:
            parts[:, rows] = _held(p, rows, drawn, driven, force)
        rows = np.flatnonzero(off)
        if rows.size:
            dragged = np.where(shifting, 0.0, dragged_force(b, column)[:, 0] * v)
            parts[:, rows] = 0.0
            parts[0, rows], parts[3, rows] = b.drive.standby_w[rows, 0], dragged[rows]
        return Drive(force[:, 0], net[:, 0], mass[:, 0], *parts)

    def rates(self, time: float, y: Array, mode: Mode) -> Array:
        """Rates of all states, per s.

        Args:
            time: s since the torque was asked for.
            y: Rows named by ``STATES``, shape (states, setups).
            mode: How they are driven.
        """
        v = np.maximum(y[0], 0.0)
        p = self.push_at(y, mode.gear)
        b = p.batch
        d = self.drive(p, time, v, mode.shifting)
        rows = np.flatnonzero(mode.settled)
        if rows.size:
            v[rows] = mode.ends[rows] = end_speed(b.pick(rows), mode.ends[rows])
            for field, x in zip(d, _at_end(b.pick(rows), v[rows]), strict=True):
                field[rows] = x
        amperes = pack_current(b, d.power[:, None])[:, 0]
        rider = np.where(mode.shifting, 0.0, b.road.rider(v[:, None])[:, 0])
        climb = slope_force(b.road.mass, b.road.grade, GRAVITY)[:, 0]
        road = b.road.force(v[:, None])[:, 0] - climb
        winding, case = self.heat.rates(v, d.winding_w, d.no_load_w, y[3], y[4])
        return np.array(
            (
                np.where((y[0] <= 0) & (d.net < 0), 0.0, d.net / d.mass),
                v,
                -amperes / self.full_charge,
                winding,
                case,
                amperes * b.drive.open_circuit_v[:, 0],
                rider * v,
                amperes**2 * b.drive.pack_resistance[:, 0],
                b.drive.standby_w[:, 0],
                d.controller_w,
                d.winding_w,
                d.no_load_w,
                d.gears_w,
                road * v,
                climb * v,
            )
        )


def _at_end(b: Batch, v: Array) -> Drive:
    """What it takes to hold that speed."""
    force = b.road.force(v[:, None]) - b.road.rider(v[:, None])
    held = hold(b, v[:, None], force)
    losses = (held.power, held.winding_w, held.controller_w, held.no_load_w, held.gears_w)
    still = np.zeros_like(v)
    return Drive(force[:, 0], still, still + 1.0, *(x[:, 0] for x in losses))


def motion(stacked: Stack, held: NDArray[np.bool_], *, moving: bool = True) -> Motion:
    """Setups on the road.

    Args:
        stacked: The setups.
        held: Which end their run at a ceiling on speed, shape (setups,).
        moving: False holds charge and temperatures where they are.
    """
    heat, full = thermal(stacked), capacity(stacked)
    if not moving:
        heat = heat._replace(winding_heat=np.full_like(heat.air_c, np.nan))
        full = np.full_like(full, np.inf)
    p = push(stacked)
    still = np.zeros((len(stacked.names), 1))
    force = np.nan_to_num(p.motor(still)[1].rim_force[:, 0])
    rise = stacked.of("controller.torque_rise_s")
    load = np.clip(p.batch.road.force(still)[:, 0], 0.0, force)
    return Motion(
        stacked=stacked,
        heat=heat,
        full_charge=np.where(np.isnan(full), np.inf, full),
        rise=rise,
        full_force=force,
        stands=rise * load / np.where(force > 0, force, 1.0),
        ceiling=np.where(held, np.minimum(rotor_ceiling(p.batch), p.batch.speed_cap[:, 0]), np.inf),
        tallest=p.batch.ratio[:, 0],
    )


def _span(rise: Array) -> Array:
    return np.where(rise > 0, rise, 1.0)


def _powers(p: Push, drawn: Drawn) -> Array:
    """Input power and losses on the envelope, as the last fields of ``Drive``, (5, setups)."""
    b, w, shaft = p.batch, drawn.rotor_speed, drawn.torque * drawn.rotor_speed
    copper = 1.5 * (drawn.point.current_d**2 + drawn.point.current_q**2)
    parts = (
        input_power_at(b, drawn),
        copper * (b.drive.resistance - b.controller_ohm),
        copper * b.controller_ohm,
        (b.drive.no_load_torque + b.drive.no_load_drag * w) * w,
        shaft * (1 - b.efficiency),
    )
    return np.stack([x[:, 0] for x in parts])


def _held(p: Push, rows: Index, drawn: Drawn, v: Array, force: Array) -> Array:
    """The same below the envelope, in the same gear."""
    b = p.batch.pick(rows)
    ratio = np.take_along_axis(b.ratio, drawn.gear[rows], 1)
    held = hold(b._replace(ratio=ratio), v[rows, None], force[rows])
    losses = (held.winding_w, held.controller_w, held.no_load_w, held.gears_w)
    return np.stack([x[:, 0] for x in (held.power, *losses)])
