"""What it takes to hold a rim force: the gear and currents of least input power, and the losses."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.envelope import AT_CAP
from curves.point.limits import sagged_voltage
from curves.point.part_load import part_load
from curves.point.solve import Point
from curves.roots import Array
from curves.stack import Batch


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
