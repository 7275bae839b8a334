"""What the studies share: setups picked, roots over whole setups, what a held speed takes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple, TypeAlias

import numpy as np

from curves.motion.heat import settled
from curves.numerics.roots import Array, Index, costly_root
from curves.pace import tell
from curves.parts import Bike, Conditions, Controller, Motor, Pack, Setup, Tune
from curves.parts.base import Table
from curves.setups.batch import Batch
from curves.setups.stack import Stack
from curves.steady.envelope import batch_envelope, draw
from curves.steady.part_load import hold, pack_current
from curves.units import KMH

Progress: TypeAlias = Callable[[int, int], None]
"""Told how much of a study is done and how much there is; what it raises ends the study."""


TABLES: dict[str, type[Table]] = {
    "motor": Motor,
    "controller": Controller,
    "pack": Pack,
    "tune": Tune,
    "bike": Bike,
    "conditions": Conditions,
    "setup": Setup,
}
"""The models that say which values a field of each part may take."""


def bounds_of(field: str) -> tuple[float, float] | None:
    """Least and most that a number of a job may be, in the job file's unit.

    Args:
        field: ``part.field`` of a stack.

    Returns:
        Infinite where there is no bound; None for what no part has as a field of its own.
    """
    part, _, name = field.partition(".")
    known = TABLES[part].model_fields.get(name)
    if known is None:
        return None
    least = [float(x.ge) for x in known.metadata if getattr(x, "ge", None) is not None]
    most = [float(x.le) for x in known.metadata if getattr(x, "le", None) is not None]
    return max(least, default=-np.inf), min(most, default=np.inf)


def quietly(done: int, most: int) -> None:
    """Tell nobody how far a study is but whoever listens to all work."""
    tell("setups of the study", done, most)


ON_THE_WAY = ("winding", "controller", "no-load", "standby", "gears")
"""Where power is lost between the controller's input and the rim."""
LOOKS = 25
"""Speeds from rest to top at which the most of something is looked for."""
SPARE = 1e-9
"""Force to spare, relative, within which a setup counts as giving all it has."""


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
    v = np.nan_to_num(speed)[:, None]
    full = batch_envelope(b, ("",) * b.size, v)
    length, power, shaft = full.phase_current, full.pack_power, full.shaft_power
    losses = {place: full.losses[place].copy() for place in ON_THE_WAY}
    # All it has is wanted at top speed, and less at a cap or where the road pushes.
    need = b.road.force(v) - b.road.rider(v)
    rows = np.flatnonzero(~(full.rim_force <= need * (1 + SPARE)) & ~np.isnan(speed)[:, None])
    if rows.size:
        held = hold(b.pick(rows), v[rows], need[rows])
        length[rows] = np.hypot(held.point.current_d, held.point.current_q)
        power[rows], shaft[rows] = held.power, held.shaft_w
        parts = (held.winding_w, held.controller_w, held.no_load_w, None, held.gears_w)
        for place, watts in zip(ON_THE_WAY, parts, strict=True):
            losses[place][rows] = b.drive.standby_w[rows] if watts is None else watts
    amperes = pack_current(b, power)
    none = np.isnan(speed)[:, None]

    def column(x: Array) -> Array:
        return np.where(none, np.nan, x)[:, 0]

    with np.errstate(divide="ignore", invalid="ignore"):
        return Running(
            loss=column(sum(losses.values(), np.zeros_like(v))),
            efficiency=column(shaft / power),
            wh_per_km=column(amperes * b.drive.open_circuit_v / (v / KMH)),
            winding_loss=column(losses["winding"]),
            pack_current=column(amperes),
            phase_current=column(length),
        )


def most_winding_loss(b: Batch, top: Array) -> Array:
    """The most that is lost in the windings between rest and top speed at full throttle, W.

    Args:
        b: The setups.
        top: Top speed, m/s, shape (setups,); NaN for none.

    Returns:
        Shape (setups,); NaN where there is no top speed.
    """
    speeds = np.nan_to_num(top)[:, None] * np.linspace(0.0, 1.0, LOOKS)
    lost = np.nan_to_num(batch_envelope(b, ("",) * b.size, speeds).losses["winding"])
    return np.where(np.isnan(top), np.nan, lost.max(axis=1))


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


def settled_winding(setups: Stack, speed: Array) -> Array:
    """Winding temperature that settles at a steady speed, °C, shape (setups,).

    Args:
        setups: The setups.
        speed: Road speed, m/s, shape (setups,); NaN for none.

    Returns:
        Infinite where no temperature settles that a motor could live at; NaN where there is no
        speed or the motor's heat values are not given.
    """
    winding = settled(setups, np.nan_to_num(speed)).winding_c
    return np.where(np.isnan(speed), np.nan, winding)
