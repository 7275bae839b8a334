"""Back-EMF with the drive off: the controller stops switching and its diodes are left.

Where the line-to-line peak of the back-EMF passes the pack's volts and two diode drops, the motor
charges the pack through the six diodes and brakes. Behind a constant voltage such a bridge looks to
the motor like a resistance: at the fundamental, phase voltage 2 V / pi in phase with the current.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index, bracketed_root
from curves.point.blocks import in_blocks
from curves.point.limits import SQRT3, Drive

DIODE_V = 0.7
"""Drop of one conducting diode of a controller, V: silicon has 0.7 to 1.1 V (common practice), and
the least of it conducts at the lowest speed."""
PHASE_SHARE = 2 / np.pi
"""Peak of the fundamental of a six-step phase voltage, per volt across the bridge."""
TIMES = (1.0, 1.01, 1.03, 1.05, 1.08, 1.1, 1.15, 1.2, 1.3, 1.5)
SHARES = (1 / SQRT3, 0.581, 0.59, 0.598, 0.607, 0.611, 0.617, 0.622, 0.629, PHASE_SHARE)
"""What of the bridge's volts holds the current down, at back-EMFs so many times the volts at which
conduction starts. Between bursts the diodes block, and less does than of a full six-step voltage.
Read from six diodes integrated in time, the least over resistances of 0.08 to 10 reactances, so
that current and torque are never given too small."""
MEAN_SHARE = 3 / np.pi
"""Mean current out of the bridge, per peak ampere of a sinusoidal phase current."""
TOLERANCE = (
    "at most: six diodes brake and charge as much or less, from 1.3 times the starting volts on "
    "at least 0.6 of it, just above the start a small part"
)
"""What the figures of a drive that goes off are good for, in words."""
MOST = 1e9
"""A current that nothing limits is given as this, A."""
DECADES = (-6.0, 6.0, 145)
"""Loads looked at between an almost shorted and an almost open motor, in reactances."""


class Generation(NamedTuple):
    """What the diodes make of the back-EMF; zeros where they settle to no current.

    Attributes:
        torque: Electromagnetic torque, N m, zero or less, no-load torque not included.
        current_d: Peak A.
        current_q: Peak A, zero or less.
        pack_current: Mean current into the pack, A, zero or more.
        bridge_v: Volts across the bridge: the pack as charged, and two diode drops.
    """

    torque: Array
    current_d: Array
    current_q: Array
    pack_current: Array
    bridge_v: Array


def back_emf(d: Drive, speed: Array) -> Array:
    """Line-to-line peak of the back-EMF, V, at rotor speeds in rad/s."""
    return SQRT3 * d.pole_pairs * d.flux * speed


def speed_at_emf(d: Drive, volts: Array) -> Array:
    """Rotor speed, rad/s, at which the line-to-line peak of the back-EMF is ``volts``."""
    return volts / (SQRT3 * d.pole_pairs * d.flux)


def generation(d: Drive, speed: Array, diode_v: Array | float = DIODE_V) -> Generation:
    """Uncontrolled generation: the state the diodes settle to.

    The most current that can last is given. With Lq above 2 Ld that state can outlive a back-EMF
    below the pack's volts, when the drive lets go while it weakens the field.

    Args:
        d: The drive; its fields broadcast against ``speed``.
        speed: Rotor speed, rad/s, zero or more.
        diode_v: Drop of one conducting diode, V.

    Returns:
        Arrays in the broadcast shape. An estimate of the most, see ``TOLERANCE``; lossless, the
        exact current comes of 2 pi V / 9 where this has 2 V / pi. Saturation, standby and a limit
        on charge are not modelled; ``resistance``, with its switch and lead, stands for winding,
        lead and the diodes' slope.

    Source: T. M. Jahns and V. Caliskan, IEEE Trans. Ind. Appl. 35(6), 1999, 1347-1357; V. Caliskan
    et al., IEEE Trans. Circuits Syst. I 50(9), 2003, 1220-1225.
    """
    w = np.asarray(speed, dtype=np.float64)
    return Generation(*in_blocks(_kernel, d, w, np.asarray(diode_v, dtype=np.float64)))


def _kernel(d: Drive, w: Array, diode_v: Array) -> tuple[NDArray[Any], ...]:
    emf = d.pole_pairs * w * d.flux
    x_d, x_q = d.pole_pairs * w * d.ld, d.pole_pairs * w * d.lq
    # The pack's resistance as one phase sees it, and the rest of the volts at the terminals.
    rails = d.open_circuit_v + 2 * diode_v
    share = np.interp(SQRT3 * emf / rails, TIMES, SHARES)
    ohm = d.resistance + share * MEAN_SHARE * d.pack_resistance
    volts = share * rails
    current = _closed_form(emf, x_d, ohm, volts)
    salient = np.flatnonzero((d.saliency > 0) & (w > 0))
    if salient.size:
        parts = (x[salient] for x in (emf, x_d, x_q, ohm, volts))
        current[salient] = _searched(*parts)
    current = np.minimum(current, MOST)
    # ohm + volts / current is the whole resistance around the loop; at no current it is infinite.
    load = ohm * current + volts
    bulk = load * load + x_d * x_q * current * current
    with np.errstate(invalid="ignore", divide="ignore"):
        i_d = np.where(current > 0, -emf * x_q * current * current / bulk, 0.0)
        i_q = np.where(current > 0, -emf * load * current / bulk, 0.0)
    into = MEAN_SHARE * current
    bridge = rails + d.pack_resistance * into
    taken = bridge * into + 1.5 * d.resistance * current * current
    torque = np.where(w > 0, -taken / np.where(w > 0, w, 1.0), 0.0)
    return torque, i_d, i_q, into, bridge


def _closed_form(emf: Array, x: Array, ohm: Array, volts: Array) -> Array:
    """Peak phase current without saliency, A: emf^2 = (volts + ohm I)^2 + (x I)^2."""
    spare = np.maximum((emf - volts) * (emf + volts), 0.0)
    square = ohm * ohm + x * x
    drop = ohm * volts
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        current = spare / (drop + np.sqrt(drop * drop + square * spare))
    return np.where(spare > 0, current, 0.0)


def _searched(emf: Array, x_d: Array, x_q: Array, ohm: Array, volts: Array) -> Array:
    """Peak phase current of a salient machine, A: of its states the one with the least load.

    For a load resistance the currents are explicit; the volts across it rise with the load at
    first, and where they first reach ``volts`` is a state that lasts.
    """
    size = np.hypot(x_q, ohm)

    def across(load: Array, at: Index) -> Array:
        whole = load + ohm[at]
        bulk = np.maximum(whole * whole + x_d[at] * x_q[at], 1e-300)
        length = np.hypot(whole, x_q[at]) / bulk
        return emf[at] * load * length - volts[at]

    every = np.arange(emf.size)
    grid = np.concatenate(([0.0], np.logspace(*DECADES)))[:, None] * size
    over = np.stack([across(load, every) for load in grid])
    first = np.argmax(over >= 0, axis=0)
    some = (over >= 0).any(axis=0)
    before = np.maximum(first - 1, 0)
    ends = grid[before, every], grid[first, every], over[before, every], over[first, every]
    load = bracketed_root(across, *ends)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(some, volts / load, 0.0)
