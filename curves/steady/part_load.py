"""What it takes to hold a rim force: the gear and currents of least input power, and the losses."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index, bracketed_root
from curves.point.limits import sagged_voltage
from curves.point.part_load import part_load
from curves.point.solve import Point
from curves.setups.batch import Batch
from curves.steady.envelope import AT_CAP, Drawn, draw, input_power_at

EVENLY = np.linspace(0.0, 1.0, 5)
ABOUT = np.array((0.97, 0.995, 1.002))
"""Speeds first tried for the one held flat out: shares of the one asked for, and of a guess."""
ENOUGH_N = 1e-8
SPARE_N = 1e-3
"""Forces that count as nothing while that speed is sought, and once it is found."""


class Held(NamedTuple):
    """A held rim force; arrays (setups, speeds), SI, NaN where the motor cannot hold it.

    Attributes:
        gear: Position of the gear used, 0 the tallest.
        rotor_speed: rad/s.
        point: Electromagnetic torque and currents.
        power: At the controller's input, W.
        shaft_w: Rotor shaft power, W; negative where the wheel drags the rotor.
        winding_w: Copper loss of the winding, W.
        controller_w: Loss in switches and leads, W.
        no_load_w: W.
        gears_w: W.
        brake_w: What the brakes take where the motor is off and the road pushes, W.
    """

    gear: NDArray[np.intp]
    rotor_speed: Array
    point: Point
    power: Array
    shaft_w: Array
    winding_w: Array
    controller_w: Array
    no_load_w: Array
    gears_w: Array
    brake_w: Array


def hold(b: Batch, speed: Array, force: Array) -> Held:
    """Hold rim forces at road speeds with the least input power.

    Where the road pushes harder than the no-load torque drags, the motor is off: no current,
    standby alone, and the brakes take what is left. Electrical braking is left out.

    Args:
        b: The setups.
        speed: Road speed, m/s, shape (speeds,) or (setups, speeds).
        force: Rim force asked of the motor, N, same shapes; negative where the road pushes.
    """
    shape = np.broadcast_shapes(np.shape(speed), np.shape(force), (b.size, 1))
    v, wanted = np.broadcast_to(speed, shape), np.broadcast_to(force, shape)
    best = _in_gear(b, v, wanted, 0)
    for gear in range(1, b.ratio.shape[1]):
        other = _in_gear(b, v, wanted, gear)
        wins = (other.power < best.power) | (np.isnan(best.power) & ~np.isnan(other.power))
        point = Point(*(np.where(wins, x, y) for x, y in zip(other.point, best.point, strict=True)))
        best = Held(
            np.where(wins, other.gear, best.gear),
            np.where(wins, other.rotor_speed, best.rotor_speed),
            point,
            *(np.where(wins, x, y) for x, y in zip(other[3:], best[3:], strict=True)),
        )
    return best


def _in_gear(b: Batch, v: Array, force: Array, gear: int) -> Held:
    d = b.drive
    ratio = b.ratio[:, gear, None] / b.radius
    w = v * ratio
    drag = d.no_load_torque + d.no_load_drag * w
    pulls = force >= 0
    shaft = np.where(pulls, force / (ratio * b.efficiency), force * b.efficiency / ratio)
    torque = shaft + drag
    over = (v > b.speed_cap * (1 + AT_CAP)) | (w > b.rotor_limit * (1 + AT_CAP))
    over |= w * d.pole_pairs > b.electrical_limit * (1 + AT_CAP)
    freewheels = (b.clutch > 0) & (force <= 0)
    off = (torque <= 0) | freewheels | (over & ~pulls)
    point = part_load(d, w, np.where(off, 0.0, torque))
    dead = ~off & (over | np.isnan(point.torque))
    point = Point(*(np.where(off, 0.0, np.where(dead, np.nan, x)) for x in point))
    copper = 1.5 * (point.current_d**2 + point.current_q**2)
    turning = np.where(freewheels, 0.0, drag * w)
    # With the motor off the rim feels the drag, through the gears; brakes take the rest.
    dragged = np.where(freewheels, 0.0, drag * ratio / b.efficiency)
    brake = np.where(off, np.maximum(-force - dragged, 0.0) * v, 0.0)
    out = point.torque * w - turning
    gears = np.where(out >= 0, out * (1 - b.efficiency), -out * (1 / b.efficiency - 1))
    return Held(
        gear=np.full(w.shape, gear, dtype=np.intp),
        rotor_speed=w,
        point=point,
        power=d.standby_w + copper * d.resistance + w * point.torque,
        shaft_w=out,
        winding_w=copper * (d.resistance - b.controller_ohm),
        controller_w=copper * b.controller_ohm,
        no_load_w=np.where(dead, np.nan, turning),
        gears_w=gears,
        brake_w=np.where(dead, np.nan, brake),
    )


def pack_current(b: Batch, power: Array) -> Array:
    """Current out of the pack, A, at powers drawn at the controller's input, W."""
    amperes: Array = power / sagged_voltage(b.drive, power)
    return amperes


class Ridden(NamedTuple):
    """Steady riding as fast as asked or as the motor can; arrays of shape (setups,), SI.

    Attributes:
        speed: What is held, m/s; 0 where the bike cannot even start, its motor at full stall.
        held: Whether that is the speed asked for.
        power: At the controller's input, W; 0 where the motor does not drive at all.
        current: Out of the pack, A.
        winding_w: Copper loss of the winding, W.
        no_load_w: W.
    """

    speed: Array
    held: NDArray[np.bool_]
    power: Array
    current: Array
    winding_w: Array
    no_load_w: Array


def ride_at(b: Batch, speed: Array, *, slower: bool = True, near: Array | None = None) -> Ridden:
    """Hold a road speed on the setups' own road; where that is too much, the speed they do hold.

    Args:
        b: The setups.
        speed: Road speed asked for, m/s, shape (setups,).
        slower: False leaves a setup that cannot hold the speed at 0 m/s and nothing drawn.
        near: About the speed that is held, m/s, shape (setups,), if that is known: it saves time.
    """
    v = np.asarray(speed, dtype=np.float64)[:, None]
    wanted = b.road.force(v) - b.road.rider(v)
    at = hold(b, v, wanted)
    power, winding, idle = (x[:, 0] for x in (at.power, at.winding_w, at.no_load_w))
    held, v = ~np.isnan(power), np.copy(v[:, 0])
    rows = np.flatnonzero(~held)
    if rows.size and not slower:
        v[rows] = power[rows] = winding[rows] = idle[rows] = 0.0
    elif rows.size:
        slow = _flat_out(b.pick(rows), v[rows], 0.5 * v[rows] if near is None else near[rows])
        v[rows], power[rows], winding[rows], idle[rows] = slow
    current = pack_current(b, power[:, None])[:, 0]
    return Ridden(v, held, power, current, winding, idle)


def _flat_out(b: Batch, most: Array, near: Array) -> tuple[Array, Array, Array, Array]:
    """Speed below ``most`` at which all there is balances the road, and what it takes there."""

    def pull(part: Batch, v: Array) -> tuple[Array, Drawn]:
        drawn = draw(part, v)
        force = np.nan_to_num(drawn.rim_force) + part.road.rider(v)
        return force - part.road.force(v), drawn

    def surplus(v: Array, at: Index) -> Array:
        part = b if at.size == b.size else b.pick(at)
        return pull(part, v[:, None])[0][:, 0]

    # Between two speeds about where it is thought to be, if it is there.
    about = np.clip(near[:, None] * ABOUT, 0.0, most[:, None])
    cuts = np.sort(np.concatenate((most[:, None] * EVENLY, about), axis=1), axis=1)
    f = pull(b, cuts)[0]
    f[:, -1] = np.minimum(f[:, -1], 0.0)
    every = np.arange(b.size)
    k = np.maximum(np.argmax(f <= 0, axis=1), 1)
    v = bracketed_root(
        surplus,
        cuts[every, k - 1],
        cuts[every, k],
        f[every, k - 1],
        f[every, k],
        enough=ENOUGH_N,
    )
    v = np.where(f[:, 0] > 0, v, 0.0)
    column = v[:, None]
    spare, drawn = pull(b, column)
    copper = 1.5 * (drawn.point.current_d**2 + drawn.point.current_q**2)
    w = drawn.rotor_speed
    parts = (
        input_power_at(b, drawn),
        copper * (b.drive.resistance - b.controller_ohm),
        (b.drive.no_load_torque + b.drive.no_load_drag * w) * w,
    )
    power, winding, idle = (np.nan_to_num(part[:, 0]) for part in parts)
    # At a ceiling on speed there is force to spare, and only the road load is asked for.
    rows = np.flatnonzero((spare[:, 0] > SPARE_N) & (v > 0))
    if rows.size:
        part, v_there = b.pick(rows), column[rows]
        eased = hold(part, v_there, part.road.force(v_there) - part.road.rider(v_there))
        for x, new in zip(
            (power, winding, idle), (eased.power, eased.winding_w, eased.no_load_w), strict=True
        ):
            x[rows] = np.where(np.isnan(new[:, 0]), x[rows], new[:, 0])
    return v, power, winding, idle
