"""Energy: what a kilometre takes, how far a charge goes, what a ride uses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

from curves.errors import JobError, Problem
from curves.motion.state import at_state, capacity, rows
from curves.numerics.roots import Array, Index
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.steady.part_load import hold, ride_at
from curves.units import KILOMETRE, PERCENT, WATT_HOUR

PANELS, NODES = 12, 6
"""Pieces of the state of charge, and points in each, over which a charge is added up."""
HALVINGS = 32
STRIDE = 0.04
"""Share of a charge after which a ride looks again at the pack's voltage."""


@dataclass(frozen=True)
class Consumption:
    """Energy over steady speed; arrays of shape (setups, speeds), NaN where it is not held.

    Attributes:
        names: Name of each setup.
        speed: m/s.
        wh_per_km: Drawn at the controller's input, Wh/km.
        cells_wh_per_km: Taken from the cells, with what the pack's own resistance costs, Wh/km.
        power: At the controller's input, W.
    """

    names: tuple[str, ...]
    speed: Array
    wh_per_km: Array
    cells_wh_per_km: Array
    power: Array


def consumption(rigs: Sequence[Rig] | Stack, speed: Array) -> Consumption:
    """Energy per distance at steady speeds, in the state and on the road of each setup.

    The rider's own watts are taken off what the motor gives.

    Args:
        rigs: The setups, or a stack of them.
        speed: Road speed, m/s, above 0, shape (speeds,) or (setups, speeds).
    """
    s = rigs if isinstance(rigs, Stack) else stack(rigs)
    b = s.batch()
    v = np.broadcast_to(speed, np.broadcast_shapes(np.shape(speed), (b.size, 1)))
    power = hold(b, v, b.road.force(v) - b.road.rider(v)).power
    volts = b.drive.open_circuit_v
    cells = volts * _current(volts, b.drive.pack_resistance, power)
    with np.errstate(divide="ignore", invalid="ignore"):
        per_km = KILOMETRE / (v * WATT_HOUR)
    return Consumption(s.names, v, power * per_km, cells * per_km, power)


@dataclass(frozen=True)
class Range:
    """How far a charge goes at a steady speed; arrays of shape (setups, speeds).

    Attributes:
        names: Name of each setup.
        speed: m/s.
        distance: m; NaN where the pack's capacity is not given or the speed is not held at all.
        time: s.
        energy: Taken from the cells, J.
        wh_per_km: Drawn at the controller's input on the way, Wh/km.
        last_charge: State of charge at the end: the one asked for, or where the speed is no longer
            held.
        held: Whether the speed is held to the charge asked for.
    """

    names: tuple[str, ...]
    speed: Array
    distance: Array
    time: Array
    energy: Array
    wh_per_km: Array
    last_charge: Array
    held: NDArray[np.bool_]


def steady_range(
    rigs: Sequence[Rig] | Stack, speed: Array, *, full: float | None = None, empty: float = 0.0
) -> Range:
    """Distance at a steady speed between two states of charge.

    Power is constant, so current rises as voltage falls: ``x = v ∫ C dz / I(z)``. Temperatures stay
    as the setups state them; slow polarisation and self-discharge are not modelled.

    Args:
        rigs: The setups, or a stack of them, on their own road.
        speed: Road speed, m/s, above 0, shape (speeds,) or (setups, speeds).
        full: State of charge at the start, 0 to 1; each setup's own if left out.
        empty: State of charge at which to stop, 0 to 1.

    Raises:
        ValueError: if the states of charge are not within 0 and 1.
    """
    if not 0 <= empty <= 1 or (full is not None and not 0 <= full <= 1):
        raise ValueError("states of charge must be within 0 and 1")
    s = rigs if isinstance(rigs, Stack) else stack(rigs)
    v = np.broadcast_to(speed, np.broadcast_shapes(np.shape(speed), (len(s.names), 1)))
    shape, speeds = v.shape, v.shape[1]
    each = rows(s, np.repeat(np.arange(shape[0]), speeds))
    flat = v.ravel()
    start = each.values["setup.state_of_charge"] if full is None else np.full(flat.size, full)
    end = _last_charge(each, flat, start, np.minimum(empty, start))
    u, weight = legendre.leggauss(NODES)
    cuts = (np.arange(PANELS)[:, None] + (u + 1) / 2).ravel() / PANELS
    share = np.tile(weight / 2 / PANELS, PANELS)
    charge = end[:, None] + (start - end)[:, None] * cuts
    current, power, volts = _steady(each, flat, charge)
    coulombs = capacity(each)
    known = np.isfinite(coulombs)
    span = (start - end) * np.where(known, coulombs, np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        time = span * np.sum(share / current, axis=1)
        energy = span * np.sum(share * volts, axis=1)
        spent = span * np.sum(share * power / current, axis=1)
        per_km = spent / (flat * time) * KILOMETRE / WATT_HOUR
    lasts = ~np.isnan(current[:, 0]) & (start > end)
    time = np.where(lasts, time, np.nan)

    def plane(x: Array) -> Array:
        return x.reshape(shape)

    return Range(
        names=s.names,
        speed=v,
        distance=plane(flat * time),
        time=plane(time),
        energy=plane(np.where(lasts, energy, np.nan)),
        wh_per_km=plane(np.where(lasts, per_km, np.nan)),
        last_charge=plane(np.where(lasts, end, np.nan)),
        held=np.asarray((end <= np.minimum(empty, start)) & lasts).reshape(shape),
    )


def _steady(s: Stack, speed: Array, charge: Array) -> tuple[Array, Array, Array]:
    """Pack current, input power and open-circuit voltage at states of charge, (setups, charges)."""
    count = charge.shape[1]
    each = rows(s, np.repeat(np.arange(speed.size), count))
    b = at_state(each, charge.ravel(), _of(each, "winding_c"), _of(each, "magnet_c"))
    v = np.repeat(speed, count)[:, None]
    power = hold(b, v, b.road.force(v) - b.road.rider(v)).power
    volts = b.drive.open_circuit_v
    current = _current(volts, b.drive.pack_resistance, power)
    return tuple(x.reshape(charge.shape) for x in (current, power, volts))  # type: ignore[return-value]


def _of(s: Stack, name: str) -> Array:
    return s.values[f"setup.{name}"]


def _current(volts: Array, ohm: Array, power: Array) -> Array:
    """Current at a drawn power, the smaller root of ``R I² − V I + P = 0``, A."""
    root = np.sqrt(np.maximum(volts * volts - 4 * ohm * power, 0.0))
    current: Array = 2 * power / (volts + root)
    return current


def _last_charge(s: Stack, speed: Array, start: Array, empty: Array) -> Array:
    """State of charge down to which the speed is held."""

    def held(charge: Array, at: Index) -> NDArray[np.bool_]:
        current = _steady(rows(s, at), speed[at], charge[:, None])[0]
        return np.asarray(~np.isnan(current[:, 0]))

    every = np.arange(speed.size)
    to_the_end = held(empty, every)
    result = np.where(to_the_end, empty, start)
    at = np.flatnonzero(~to_the_end & held(start, every))
    low, high = empty[at], start[at]
    for _ in range(HALVINGS if at.size else 0):
        middle = (low + high) / 2
        good = held(middle, at)
        high, low = np.where(good, middle, high), np.where(good, low, middle)
    result[at] = high
    return result


@dataclass(frozen=True)
class Ride:
    """A ride of stretches, each at a steady speed; arrays of shape (setups, stretches).

    Attributes:
        names: Name of each setup.
        time: s.
        speed: Held, m/s; below what is asked where the motor cannot.
        held: Whether the speed asked for is held throughout.
        energy: Drawn at the controller's input, J.
        cells: Taken from the cells, J.
        charge: State of charge at the end of the stretch; NaN where it is not followed.
        done: Whether each setup comes to the end of the ride, shape (setups,).
    """

    names: tuple[str, ...]
    time: Array
    speed: Array
    held: NDArray[np.bool_]
    energy: Array
    cells: Array
    charge: Array
    done: NDArray[np.bool_]


def ride(rigs: Sequence[Rig], stretches: Array) -> Ride:
    """What a ride takes, stretch by stretch, while the pack empties.

    Speeding up between stretches and regeneration are left out; where the road pushes, the brakes
    hold the speed.

    Args:
        rigs: The setups; their own grade is left aside.
        stretches: Speed, m/s, grade as a tangent, and distance, m, shape (stretches, 3).

    Raises:
        JobError: if a speed or distance is not above 0.
    """
    table = np.asarray(stretches, dtype=np.float64).reshape(-1, 3)
    for k, (speed, _, distance) in enumerate(table):
        if not (speed > 0 and distance > 0 and np.isfinite(table[k]).all()):
            what = "needs a speed and a distance above 0"
            raise JobError([Problem(f"stretch {k + 1}", f"{table[k].tolist()}", what)])
    s, count = stack(rigs), len(rigs)
    full = capacity(s)
    charge = np.copy(_of(s, "state_of_charge"))
    out = {name: np.zeros((count, len(table))) for name in ("time", "energy", "cells", "charge")}
    held = np.ones((count, len(table)), dtype=np.bool_)
    for k, (speed, grade, distance) in enumerate(table):
        here = s.vary({"conditions.grade_percent": np.full(count, grade / PERCENT)})
        charge, parts, held[:, k] = _stretch(here, full, charge, speed, distance)
        for name, x in zip(("time", "energy", "cells"), parts, strict=True):
            out[name][:, k] = x
        out["charge"][:, k] = np.where(np.isfinite(full), charge, np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = table[:, 2] / out["time"]
    return Ride(
        names=s.names,
        time=out["time"],
        speed=mean,
        held=held,
        energy=out["energy"],
        cells=out["cells"],
        charge=out["charge"],
        done=np.asarray(np.isfinite(out["time"]).all(axis=1)),
    )


def _stretch(
    s: Stack, full: Array, charge: Array, speed: float, distance: float
) -> tuple[Array, tuple[Array, Array, Array], NDArray[np.bool_]]:
    """One stretch, in strides short against the charge; each looks at its own middle."""
    wanted = np.full(charge.size, speed)
    capacity_c = np.where(np.isnan(full), np.inf, full)

    def look(z: Array) -> tuple[Array, Array, Array, Array, NDArray[np.bool_]]:
        b = at_state(s, z, _of(s, "winding_c"), _of(s, "magnet_c"))
        at = ride_at(b, wanted)
        return at.speed, at.power, at.current, b.drive.open_circuit_v[:, 0], at.held

    z, left = np.copy(charge), np.full(charge.size, distance)
    time, energy, cells = (np.zeros(charge.size) for _ in range(3))
    held = np.ones(charge.size, dtype=np.bool_)
    while np.any(left > 0):
        v, _, current, _, at_speed = look(z)
        alive = (v > 0) & (z > 0)
        with np.errstate(divide="ignore", invalid="ignore"):
            most = np.where(current > 0, STRIDE * capacity_c * v / current, np.inf)
            # The last stride of all goes a little past empty, which ends the ride.
            way = np.where(alive, np.minimum(left, np.maximum(most, 1.0)), left)
            half = np.where(alive, z - current * way / np.maximum(v, 1e-9) / capacity_c / 2, z)
        v, power, current, volts, later = look(half)
        alive &= v > 0
        lasts = way / np.where(alive, v, 1.0)
        spent = np.where(alive & (left > 0), lasts, 0.0)
        time += np.where(alive, spent, np.where(left > 0, np.inf, 0.0))
        energy, cells = energy + power * spent, cells + current * volts * spent
        z = z - current * spent / capacity_c
        held &= (left <= 0) | (at_speed & later & alive)
        left = np.where(alive, left - way, 0.0)
    return np.maximum(z, 0.0), (time, energy, cells), held
