"""A setup over road speed: what it can do at each, and what holds it there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index, costly_root
from curves.parts.rig import Rig
from curves.point.blocks import pick
from curves.point.gains import LIMIT_WORDS, Gains, gains
from curves.point.limits import SQRT3, Drive, sagged_voltage
from curves.point.solve import Point, operating_point, voltage_room
from curves.setups.batch import Batch
from curves.setups.stack import stack

AT_CAP = 1e-9
"""A speed within this of a cap, relative, is at it and still driven."""
SOUGHT = 10.0
"""No-load speed is sought to so many times Kv m V_oc."""
NO_LOAD_GRID = np.concatenate(([0.0, 0.5, 0.8], np.linspace(0.9, 1.3, 9), [1.5, 2, 3, 5, SOUGHT]))
"""Where no-load speed is bracketed first, over Kv m V_oc; weakening takes it past 1."""
SCAN = 48
"""Steps in which the first speed with voltage as a limit is looked for."""


TIE = 1e-9
"""Forces of two gears within this of each other, relative, are a tie."""
LEVEL = 1e-9
"""Share of the pack's volts that stands for room on a stretch where torque is level."""


class Drawn(NamedTuple):
    """Best gear and operating point at road speeds; arrays (setups, speeds), NaN where not driven.

    ``over`` says which ceilings the speed exceeds or, where driven, has just reached; last axis:
    speed cap, motor speed, electrical speed.
    """

    gear: NDArray[np.intp]
    rotor_speed: Array
    point: Point
    torque: Array
    rim_force: Array
    over: NDArray[np.bool_]


@dataclass(frozen=True)
class Envelope:
    """What each setup can do over road speed. SI; arrays (setups, speeds), NaN where not driven.

    Attributes:
        names: Name of each setup.
        speed: Road speed, m/s, shape (speeds,).
        rotor_speed: rad/s; never NaN.
        torque: At the rotor shaft, no-load torque taken off, N m.
        rim_force: N.
        road_force: Road load, N; never NaN.
        shaft_power: At the rotor, before gears, W.
        rim_power: W.
        pack_power: Drawn at the controller's input, W.
        pack_voltage: Under that load, V.
        pack_current: A.
        phase_current: Length of the current vector, peak A.
        current_d: Peak A.
        current_q: Peak A.
        efficiency: Shaft power over input power; 0 at standstill, NaN where nothing is drawn.
        losses: W by place: winding, controller, no-load, standby, gears, pack.
        limited: Which of ``LIMIT_WORDS`` hold it, or where not driven the ceilings passed; shape
            (setups, speeds, 9).
        gear: Position of the gear used, 0 the tallest.
        gain: Torque gained per unit of each limit.
    """

    names: tuple[str, ...]
    speed: Array
    rotor_speed: Array
    torque: Array
    rim_force: Array
    road_force: Array
    shaft_power: Array
    rim_power: Array
    pack_power: Array
    pack_voltage: Array
    pack_current: Array
    phase_current: Array
    current_d: Array
    current_q: Array
    efficiency: Array
    losses: Mapping[str, Array]
    limited: NDArray[np.bool_]
    gear: NDArray[np.intp]
    gain: Gains


def envelope(rigs: Sequence[Rig], speed: Array) -> Envelope:
    """The envelope of every setup at the given road speeds.

    Args:
        rigs: The setups, as ``Job.rigs`` gives them.
        speed: Road speed, m/s, zero or more, shape (speeds,).
    """
    return batch_envelope(stack(rigs).batch(), tuple(r.name for r in rigs), speed)


def batch_envelope(b: Batch, names: tuple[str, ...], speed: Array) -> Envelope:
    """The envelope of a batch; see ``Envelope``.

    Args:
        b: The setups.
        names: Their names.
        speed: Road speed, m/s, shape (speeds,) or (setups, speeds).
    """
    v = np.asarray(speed, dtype=np.float64)
    drawn = draw(b, v)
    d, w, (_, i_d, i_q) = b.drive, drawn.rotor_speed, drawn.point
    gain = gains(d, w, drawn.point)
    length = np.hypot(i_d, i_q)
    power = input_power_at(b, drawn)
    volts = sagged_voltage(d, power)
    amperes = power / volts
    shaft = drawn.torque * w
    with np.errstate(divide="ignore", invalid="ignore"):
        efficiency = np.where(power == 0, np.nan, np.where(w == 0, 0.0 * power, shaft / power))
    copper = 1.5 * length * length
    losses = {
        "winding": copper * (d.resistance - b.controller_ohm),
        "controller": copper * b.controller_ohm,
        "no-load": np.where(np.isnan(length), np.nan, (d.no_load_torque + d.no_load_drag * w) * w),
        "standby": np.where(np.isnan(length), np.nan, d.standby_w),
        "gears": shaft * (1 - b.efficiency),
        "pack": amperes * amperes * d.pack_resistance,
    }
    return Envelope(
        names=names,
        speed=v,
        rotor_speed=w,
        torque=drawn.torque,
        rim_force=drawn.rim_force,
        road_force=b.road.force(v),
        shaft_power=shaft,
        rim_power=drawn.rim_force * v,
        pack_power=power,
        pack_voltage=volts,
        pack_current=amperes,
        phase_current=length,
        current_d=i_d,
        current_q=i_q,
        efficiency=efficiency,
        losses=losses,
        limited=np.concatenate((gain.limited, drawn.over), axis=-1),
        gear=drawn.gear,
        gain=gain,
    )


def draw(b: Batch, speed: Array) -> Drawn:
    """The best gear's operating point at road speeds.

    Args:
        b: The setups.
        speed: Road speed, m/s, shape (speeds,) or (setups, speeds).
    """
    v = np.broadcast_to(speed, np.broadcast_shapes(np.shape(speed), (b.size, 1)))
    best = _in_gear(b, v, 0)
    for gear in range(1, b.ratio.shape[1]):
        other = _in_gear(b, v, gear)
        # Ratios rise, so a tie stays with the taller gear.
        held = np.where(np.isnan(best.rim_force), -1.0, best.rim_force * (1 + TIE))
        wins = other.rim_force > held
        best = Drawn(
            np.where(wins, other.gear, best.gear),
            np.where(wins, other.rotor_speed, best.rotor_speed),
            Point(*(np.where(wins, x, y) for x, y in zip(other.point, best.point, strict=True))),
            np.where(wins, other.torque, best.torque),
            np.where(wins, other.rim_force, best.rim_force),
            np.where(wins[..., None], other.over, best.over),
        )
    return best


def _in_gear(b: Batch, v: Array, gear: int) -> Drawn:
    d, ratio = b.drive, b.ratio[:, gear, None]
    w = v * (ratio / b.radius)
    point = operating_point(d, w)
    torque = point.torque - d.no_load_torque - d.no_load_drag * w
    speeds = (v, w, w * d.pole_pairs)
    ceilings = (b.speed_cap, b.rotor_limit, b.electrical_limit)
    passed = np.stack([x > c * (1 + AT_CAP) for x, c in zip(speeds, ceilings, strict=True)], -1)
    at = np.stack([x >= c * (1 - AT_CAP) for x, c in zip(speeds, ceilings, strict=True)], -1)
    barred = np.any(passed, axis=-1, keepdims=True)
    dead = barred[..., 0] | ~(torque >= 0)
    over = np.where(barred, passed, at & ~dead[..., None])
    point = Point(*(np.where(dead, np.nan, x) for x in point))
    torque = np.where(dead, np.nan, torque)
    force = torque * ratio * b.efficiency / b.radius
    return Drawn(np.full(w.shape, gear, dtype=np.intp), w, point, torque, force, over)


def input_power_at(b: Batch, drawn: Drawn) -> Array:
    """Power at the controller's input, W, with the derating that is already in the torque."""
    copper = 1.5 * b.drive.resistance * (drawn.point.current_d**2 + drawn.point.current_q**2)
    return b.drive.standby_w + copper + drawn.rotor_speed * drawn.point.torque


def no_load_speed(b: Batch) -> Array:
    """Road speed at which the best shaft torque is zero, in the highest gear, m/s, shape (setups,).

    Best torque never rises with speed, so the root is unique. Caps and ceilings are left aside.
    NaN where the motor does not drive at all, or drives to ten times Kv m V_oc and beyond.
    """
    every = np.arange(b.size)
    ideal = ideal_rotor_speed(b)
    grid = ideal[:, None] * NO_LOAD_GRID
    pulls = operating_point(b.drive, grid).torque
    rest = pulls[:, 0]
    scale = np.where(rest > 0, rest, 1.0)

    def net(pull: Array, w: Array, rows: Index) -> Array:
        part = drive_of(b, rows)
        drag = part.no_load_torque + part.no_load_drag * w
        # Where nothing is driven any more, no torque is left to set against the drag; a motor
        # without drag needs some step there for the root to be a change of sign.
        none = np.where(drag > 0, 0.0, -1e-2 * rest[rows, None])
        return (np.where(np.isnan(pull), none, pull) - drag) / scale[rows, None]

    def torque(w: Array, rows: Index) -> Array:
        return net(operating_point(drive_of(b, rows), w).torque, w, rows)

    nets = net(pulls, grid, every)
    first = np.argmax(nets < 0, axis=1)
    low, high = grid[every, first - 1], grid[every, first]
    f_low, f_high = nets[every, first - 1], nets[every, first]
    lost = ~(nets[:, 0] >= 0) | ~np.any(nets < 0, axis=1)
    f_high[lost] = 0.0
    root = costly_root(torque, low, high, f_low, f_high)
    return np.where(lost, np.nan, root * b.radius[:, 0] / b.ratio[:, 0])


def drive_of(b: Batch, rows: Index) -> Drive:
    """The drives of some setups."""
    return b.drive if rows.size == b.size else pick(b.drive, rows)


def ideal_rotor_speed(b: Batch) -> Array:
    """Kv m V_oc at the magnets' temperature, rad/s, shape (setups,)."""
    d = b.drive
    ideal: Array = d.modulation * d.open_circuit_v / (SQRT3 * d.pole_pairs * d.flux)
    return ideal[:, 0]


def base_speed(b: Batch, no_load: Array) -> Array:
    """Lowest road speed at which voltage limits, in the lowest gear, m/s, shape (setups,).

    Args:
        b: The setups.
        no_load: Their no-load speed in the highest gear, m/s, beyond which nothing is limited.

    Returns:
        NaN where voltage never limits while the motor drives. Caps and ceilings are left aside.
    """
    d, ratio = b.drive, b.ratio[:, -1]
    end = np.where(
        np.isnan(no_load), SOUGHT * ideal_rotor_speed(b), no_load * b.ratio[:, 0] / b.radius[:, 0]
    )

    def room(w: Array, rows: Index) -> Array:
        room = voltage_room(drive_of(b, rows), w) / d.open_circuit_v[rows]
        # Where i_d is free to weaken at the same torque, all of a stretch just meets the limit.
        return np.where(room == 0, LEVEL, room)

    every = np.arange(b.size)
    grid = end[:, None] * np.linspace(0.0, 1.0, SCAN + 1)
    rooms = room(grid, every)
    first = np.argmax(rooms < 0, axis=1)
    bound = (rooms < 0).any(axis=1)
    before = np.maximum(first - 1, 0)
    low, high = grid[every, before], grid[every, first]
    root = costly_root(room, low, high, rooms[every, before], rooms[every, first])
    root = np.where(bound & (first == 0), 0.0, root)
    driven = operating_point(d, np.zeros((b.size, 1))).torque[:, 0] >= d.no_load_torque[:, 0]
    return np.where(bound & driven, root * b.radius[:, 0] / ratio, np.nan)


def words(limited: NDArray[np.bool_]) -> list[str]:
    """The words of one point's limits, in their fixed order."""
    return [word for word, holds in zip(LIMIT_WORDS, limited, strict=True) if holds]
