"""What the studies share: setups picked and repeated, and a speed held with the least power."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from curves.envelope import batch_envelope, draw, input_power_at
from curves.roots import Array, Index, bracketed_root, costly_root
from curves.stack import Batch, Stack
from curves.units import KMH

ON_THE_WAY = ("winding", "controller", "no-load", "standby", "gears")
"""Where power is lost between the controller's input and the rim."""


class Running(NamedTuple):
    """What it takes to hold a speed, arrays (setups,), NaN where it is not driven.

    ``loss`` is all that is lost from the controller's input to the rim, W; ``efficiency`` the
    rotor's power over the controller's input; ``wh_per_km`` what leaves the cells, sag included.
    """

    loss: Array
    efficiency: Array
    wh_per_km: Array
    winding_loss: Array
    pack_current: Array
    phase_current: Array


def running(b: Batch, speed: Array) -> Running:
    """What each setup takes to hold its speed, with no more power than that needs.

    Args:
        b: The setups.
        speed: Road speed, m/s, shape (setups,); NaN for none.
    """
    held = at_load(b, speed)
    at = batch_envelope(held, ("",) * b.size, np.nan_to_num(speed)[:, None])
    none = np.isnan(speed)

    def column(x: Array) -> Array:
        return np.where(none, np.nan, x[:, 0])

    loss = sum((column(at.losses[place]) for place in ON_THE_WAY), np.zeros(b.size))
    amperes = column(at.pack_current)
    with np.errstate(divide="ignore", invalid="ignore"):
        spent = amperes * b.drive.open_circuit_v[:, 0] / (speed / KMH)
    return Running(
        loss,
        column(at.efficiency),
        spent,
        column(at.losses["winding"]),
        amperes,
        column(at.phase_current),
    )


def pick(setups: Stack, rows: Index) -> Stack:
    """Some setups of a stack, in any order and as often as wanted.

    Args:
        setups: The stack.
        rows: Positions in it, shape (n,).
    """
    return replace(
        setups,
        names=tuple(setups.names[k] for k in rows),
        values={name: x[rows] for name, x in setups.values.items()},
        ratios=setups.ratios[rows],
        derating=setups.derating[:, rows],
    )


def study_root(
    f: Callable[[Array, Index], Array], low: Array, high: Array, f_low: Array, f_high: Array
) -> Array:
    """Root in each bracket of a function that solves whole setups, in as few calls as may be.

    Args:
        f: Called with points, shape (k,), and the positions of their brackets, shape (k,).
        low: Lower ends, shape (n,).
        high: Upper ends, shape (n,).
        f_low: Values at ``low``, shape (n,).
        f_high: Values at ``high``, of the other sign, shape (n,).
    """

    def wide(x: Array, at: Index) -> Array:
        return f(x.ravel(), np.repeat(at, x.shape[1])).reshape(x.shape)

    return costly_root(wide, low, high, f_low, f_high)


def surplus(b: Batch, speed: Array) -> Array:
    """Rim force, the rider's own included, above the road load, N, shape (setups,).

    Args:
        b: The setups.
        speed: Road speed, m/s, shape (setups,); where the motor does not drive its force is none.
    """
    v = speed[:, None]
    force = np.nan_to_num(draw(b, v).rim_force) + b.road.rider(v)
    return (force - b.road.force(v))[:, 0]


def at_load(b: Batch, speed: Array) -> Batch:
    """The same setups with their power cut back until they just hold a speed.

    Most torque for a power is least power for a torque, so a lower cap finds the least wasteful
    currents. Setups that have nothing to spare there stay as they are; where the road pushes, the
    motor is left turning at no torque.

    Args:
        b: The setups.
        speed: Road speed, m/s, shape (setups,).
    """
    v = np.nan_to_num(speed)[:, None]
    drawn = draw(b, v)
    need = np.maximum(b.road.force(v) - b.road.rider(v), 0.0)[:, 0]
    spare = np.nan_to_num(drawn.rim_force, nan=-1.0)[:, 0] - need
    rows = np.flatnonzero(spare > 1e-9 * need)
    if not rows.size:
        return b
    part, at, wanted = b.pick(rows), v[rows], need[rows]
    full = input_power_at(part, draw(part, at))[:, 0]

    def left(cap: Array, k: Index) -> Array:
        some = capped(part.pick(k), cap)
        return np.nan_to_num(draw(some, at[k]).rim_force, nan=-1.0)[:, 0] - wanted[k]

    idle = part.drive.standby_w[:, 0]
    every = np.arange(rows.size)
    cap = bracketed_root(left, full, idle, left(full, every), left(idle, every))
    caps = np.broadcast_to(b.drive.cap_w, (b.size, 1))[:, 0].copy()
    caps[rows] = cap
    return capped(b, caps)


def capped(b: Batch, watts: Array) -> Batch:
    """The same setups under other power caps, W, shape (setups,)."""
    return b._replace(drive=b.drive._replace(cap_w=watts[:, None]))


def held_by(words: tuple[str, ...]) -> str:
    """Limits as people say them in a sentence."""
    if not words:
        return "nothing that has a name"
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))
