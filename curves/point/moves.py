"""How far each limit moves with one unit more of an input, all that follows from it included.

A limit rarely moves alone: more phase current lengthens the vector and the weakening that goes with
most torque per ampere, more pack current lifts the line of a low-voltage fold-back.
"""

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array
from curves.point.limits import (
    SQRT3,
    Drive,
    PowerLimits,
    derated_torque,
    phase_voltage,
    power_limits,
)

INPUTS = ("phase", "pack", "pack_v", "pack_ohm", "speed")
"""Ampere of phase current, ampere of pack current, open-circuit volt, pack ohm, rad/s."""
LIMITS = 9
"""The six words, the torque current alone, i_d <= 0, a kink of the derating."""
VECTOR, WEAKENING, PACK, CAP, LOW, VOLTAGE, TORQUE = range(7)
AT_HALF = 1e-7
"""Share of the open-circuit volts above half of them at which a gain counts as without end."""


def limits_moved(d: Drive, w: Array, i_d: Array, i_q: Array, power: Array, volts: Array) -> Array:
    """What one unit more of each input adds to each limit, shape (inputs, limits, n).

    Args:
        d: One drive a point, every field of shape (n,).
        w: Rotor speed, rad/s, shape (n,).
        i_d: Peak A.
        i_q: Peak A.
        power: Drawn there at the controller's input, W.
        volts: Of the pack there, V.

    Returns:
        In the unit of the limit (A, W, or V of one phase) per unit of the input; infinite where
        it has no end. Only where a limit is met does it mean anything.
    """
    moved = np.zeros((len(INPUTS), LIMITS, w.size))
    phase, pack, volt, ohm, speed = moved
    phase[VECTOR] = phase[TORQUE] = 1.0
    phase[WEAKENING] = d.mtpa_per_a
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        limits = power_limits(d)
        _pack_current(d, limits, pack, volt, ohm)
        _low_volts(d, limits, pack, volt, ohm)
        _voltage(d, (w, i_d, i_q), (power, volts), volt, ohm, speed)
        speed[PACK] = speed[CAP] = speed[LOW] = -derated_torque(d, i_d, i_q)
    return moved


def _pack_current(d: Drive, limits: PowerLimits, pack: Array, volt: Array, ohm: Array) -> None:
    amperes = limits.pack_a
    # Past half the short-circuit current no rating draws more.
    pack[PACK] = np.where(
        _at_ceiling(d, limits), np.inf, d.open_circuit_v - 2 * d.pack_resistance * amperes
    )
    # At the ceiling V_oc^2 / 4 R itself grows with the volts, by V_oc / 2 R.
    volt[PACK] = amperes
    ohm[PACK] = -amperes * amperes


def _low_volts(d: Drive, limits: PowerLimits, pack: Array, volt: Array, ohm: Array) -> None:
    """The cut-off, or where it comes first the fold-back, whose line begins at the pack current."""
    v, r, amperes, left = d.open_circuit_v, d.pack_resistance, limits.pack_a, limits.foldback_a
    span, above = d.foldback_start_v - d.foldback_end_v, v - d.foldback_end_v
    ceiling = _at_ceiling(d, limits)
    endless = np.isinf(amperes)
    share = np.where(endless, 1 / r, amperes / (span + r * amperes))
    line = np.where(endless, 0.0, span * above / (span + r * amperes) ** 2)
    drawn = v - 2 * r * left
    # Half the short-circuit current moves with the pack, and no rating moves it.
    rising = np.where(ceiling & (r > 0), drawn * line * amperes, 0.0)
    folded = limits.foldback < limits.cutoff
    cut = d.cutoff_v
    pack[LOW] = np.where(folded & ~ceiling, drawn * line, 0.0)
    volt[LOW] = np.where(folded, left + drawn * share + rising / v, cut / r)
    ohm[LOW] = np.where(
        folded, -left * (left + drawn * share) - rising / r, -cut * (v - cut) / (r * r)
    )


def _voltage(
    d: Drive,
    point: tuple[Array, Array, Array],
    drawn: tuple[Array, Array],
    volt: Array,
    ohm: Array,
    speed: Array,
) -> None:
    """The voltage limit with the pack's sag."""
    (w, i_d, i_q), (power, volts), r = point, drawn, d.pack_resistance
    u = d.modulation / SQRT3
    root = 2 * volts - d.open_circuit_v
    at_half = (root <= AT_HALF * d.open_circuit_v) & (r > 0)
    volt[VOLTAGE] = np.where(at_half, np.inf, u * np.where(r > 0, volts / root, 1.0))
    ohm[VOLTAGE] = np.where(at_half, -np.inf, -u * power / root)
    v_d, v_q = phase_voltage(d, w, i_d, i_q)
    v = np.maximum(np.hypot(v_d, v_q), 1e-300)
    turn = d.pole_pairs * (v_q * (d.ld * i_d + d.flux) - v_d * d.lq * i_q) / v
    sag = np.where(r > 0, u * r / np.maximum(root, 1e-150), 0.0)
    speed[VOLTAGE] = -turn - sag * derated_torque(d, i_d, i_q)


def _at_ceiling(d: Drive, limits: PowerLimits) -> NDArray[np.bool_]:
    """Where half the short-circuit current is the limit instead of a rating."""
    r = d.pack_resistance
    return np.asarray(limits.pack_a >= np.where(r > 0, d.open_circuit_v / (2 * r), np.inf))
