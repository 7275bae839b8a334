"""A setup's braking over road speed: the strongest electrical braking, and what holds it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.point.braking import BRAKING_LIMITS, Brake, braking_point
from curves.point.gains import LIMIT_WORDS
from curves.point.limits import sagged_voltage
from curves.setups.batch import Batch
from curves.setups.stack import stack
from curves.steady.envelope import AT_CAP

BRAKING_WORDS = (
    *LIMIT_WORDS,
    "regen pack current",
    "full-charge voltage",
    "plugging",
    "overrunning clutch",
)
"""The words of what can hold braking, in the order in which results list them.

``plugging`` means that braking harder would take power out of the pack.
"""


@dataclass(frozen=True)
class BrakingEnvelope:
    """The strongest braking over road speed. SI; arrays (setups, speeds).

    NaN where the controller cannot hold even zero torque (the diodes conduct there), above the
    motor's or controller's highest speed, and throughout where the pack is at its cut-off.

    Attributes:
        names: Name of each setup.
        speed: Road speed, m/s.
        rotor_speed: rad/s; never NaN.
        torque: At the rotor shaft, no-load torque added, N m, zero or less; zero with a clutch.
        electrical_torque: The part the currents give, N m, zero or less.
        rim_force: N, zero or less.
        pack_power: At the controller's input, W, negative when charging.
        pack_voltage: At that power, V.
        pack_current: A, negative when charging.
        phase_current: Length of the current vector, peak A.
        current_d: Peak A.
        current_q: Peak A.
        limited: Which of ``BRAKING_WORDS`` hold it; shape (setups, speeds, 13).
        gear: Position of the gear that brakes hardest, 0 the tallest.
    """

    names: tuple[str, ...]
    speed: Array
    rotor_speed: Array
    torque: Array
    electrical_torque: Array
    rim_force: Array
    pack_power: Array
    pack_voltage: Array
    pack_current: Array
    phase_current: Array
    current_d: Array
    current_q: Array
    limited: NDArray[np.bool_]
    gear: NDArray[np.intp]


def braking_envelope(rigs: Sequence[Rig], speed: Array) -> BrakingEnvelope:
    """The braking envelope of every setup at the given road speeds.

    Args:
        rigs: The setups, as ``Job.rigs`` gives them.
        speed: Road speed, m/s, zero or more, shape (speeds,).
    """
    return batch_braking(stack(rigs).batch(), tuple(r.name for r in rigs), speed)


def batch_braking(b: Batch, names: tuple[str, ...], speed: Array) -> BrakingEnvelope:
    """The braking envelope of a batch; see ``BrakingEnvelope``.

    Args:
        b: The setups.
        names: Their names.
        speed: Road speed, m/s, shape (speeds,) or (setups, speeds).
    """
    v = np.broadcast_to(speed, np.broadcast_shapes(np.shape(speed), (b.size, 1)))
    gears = [_in_gear(b, v, gear) for gear in range(b.ratio.shape[1])]
    # Ratios rise, so a tie stays with the taller gear; a gear that cannot brake loses.
    force = np.stack([np.where(np.isnan(g.force), 1.0, g.force) for g in gears])
    gear = np.argmin(force, axis=0)

    def best(field: str) -> NDArray[Any]:
        each = np.stack([getattr(g, field) for g in gears])
        at = gear.reshape(1, *gear.shape, *(1,) * (each.ndim - 1 - gear.ndim))
        return np.asarray(np.take_along_axis(each, at, 0)[0])

    w, electrical = best("rotor_speed"), best("electrical")
    i_d, i_q = best("current_d"), best("current_q")
    length = np.hypot(i_d, i_q)
    power = b.drive.standby_w + 1.5 * b.drive.resistance * length * length + w * electrical
    volts = sagged_voltage(b.drive, power)
    return BrakingEnvelope(
        names=names,
        speed=np.asarray(speed, dtype=np.float64),
        rotor_speed=w,
        torque=best("torque"),
        electrical_torque=electrical,
        rim_force=best("force"),
        pack_power=power,
        pack_voltage=volts,
        pack_current=power / volts,
        phase_current=length,
        current_d=i_d,
        current_q=i_q,
        limited=best("limited"),
        gear=gear,
    )


def braking_words(limited: NDArray[np.bool_]) -> list[str]:
    """The words of what holds braking at one point, in their fixed order."""
    return [word for word, holds in zip(BRAKING_WORDS, limited, strict=True) if holds]


@dataclass(frozen=True)
class _Gear:
    rotor_speed: Array
    torque: Array
    electrical: Array
    force: Array
    current_d: Array
    current_q: Array
    limited: NDArray[np.bool_]


def _in_gear(b: Batch, v: Array, gear: int) -> _Gear:
    d, ratio, clutch = b.drive, b.ratio[:, gear, None], b.clutch > 0
    w = v * (ratio / b.radius)
    # The wheel cannot drive a rotor behind a clutch, so there is nothing to brake with.
    point = braking_point(d, w, np.where(clutch, 0.0, b.regen_a), b.full_charge_v)
    limited = _words(point, clutch)
    limited[..., 7] = w > b.rotor_limit * (1 + AT_CAP)
    limited[..., 8] = w * d.pole_pairs > b.electrical_limit * (1 + AT_CAP)
    barred = limited[..., 7] | limited[..., 8]
    limited[barred, :7], limited[barred, 9:] = False, False
    electrical, i_d, i_q = (np.where(barred, np.nan, x) for x in point[:3])
    drag = np.where(clutch, 0.0, d.no_load_torque + d.no_load_drag * w)
    torque = electrical - drag
    force = torque * ratio / (b.radius * b.efficiency)
    return _Gear(w, torque, electrical, force, i_d, i_q, limited)


def _words(point: Brake, clutch: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The limits met, in the places of their words."""
    limited = np.zeros((*point.torque.shape, len(BRAKING_WORDS)), dtype=np.bool_)
    for k, word in enumerate(BRAKING_LIMITS):
        limited[..., BRAKING_WORDS.index(word)] = point.met[..., k]
    limited[np.broadcast_to(clutch, point.torque.shape)] = False
    limited[..., -1] = clutch
    return limited
