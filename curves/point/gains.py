"""What holds a point, and what one unit more of it would buy.

At the largest torque the gradient of torque is a non-negative combination of the gradients of the
limits met (Karush, Kuhn, Tucker); the weights are the gains. In the plane of the two currents one
or two limits suffice. An input that moves several limits buys their weights times how far each of
them moves. Where more limits meet there are several such combinations, and what *more* of an input
buys is the least that any of them gives.
"""

from itertools import combinations
from typing import Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index
from curves.point.blocks import in_blocks
from curves.point.limits import (
    SQRT3,
    Drive,
    derated_torque,
    derating_factor,
    electromagnetic_torque,
    input_power,
    phase_voltage,
    power_limits,
    sagged_voltage,
)
from curves.point.moves import limits_moved
from curves.point.solve import Point

LIMIT_WORDS = (
    "phase current",
    "field weakening current",
    "pack current",
    "power cap",
    "low-voltage cut-off",
    "voltage",
    "speed cap",
    "motor speed",
    "electrical speed",
)
"""The words of every limit, in the order in which results list them."""

MET = 1e-6
"""A limit counts as met when its slack is within this of its own size."""


Met: TypeAlias = NDArray[np.bool_]


NEARLY = 1e-4
"""Share of the gradient of torque that a single limit may leave over at a peak."""


class Gains(NamedTuple):
    """Torque gained per unit more of each limit, N m per A, W or V; zero where it does not bind.

    Attributes:
        limited: Which of the first six words of ``LIMIT_WORDS`` hold the point; last axis 6.
        phase: Per peak phase ampere, with the weakening that most torque per ampere then takes.
        weakening: Per peak ampere of field weakening.
        pack: Per ampere of pack current, with the line of a low-voltage fold-back that begins at
            it; NaN where more draws no more power (V = V_oc / 2).
        cap: Per watt of power cap.
        pack_v: Per volt of open-circuit voltage, everything it moves included; NaN where infinite.
        pack_ohm: Per ohm of pack resistance (negative).
        speed: Per rad/s of rotor speed (negative): the slope of the envelope.
    """

    limited: NDArray[np.bool_]
    phase: Array
    weakening: Array
    pack: Array
    cap: Array
    pack_v: Array
    pack_ohm: Array
    speed: Array


def gains(d: Drive, speed: Array, point: Point) -> Gains:
    """What holds each point and the gain per unit of every limit.

    Args:
        d: The drive; its fields broadcast against ``speed``.
        speed: Rotor speed, rad/s.
        point: The operating point at that speed, in the broadcast shape.

    Returns:
        Arrays in the broadcast shape; nothing holds a point that is NaN, and its gains are NaN.
    """
    w = np.asarray(speed, dtype=np.float64)
    return Gains(*in_blocks(_kernel, d, w, point.current_d, point.current_q))


def _kernel(d: Drive, w: Array, i_d: Array, i_q: Array) -> tuple[NDArray[Any], ...]:
    dead = np.isnan(i_d)
    i_d, i_q = np.where(dead, 0.0, i_d), np.where(dead, 0.0, i_q)
    rows, met, up = _active(d, w, i_d, i_q)
    moved = limits_moved(d, w, i_d, i_q, rows.power, rows.volts)
    weight, most, watts, more = _weights(rows, met, up, moved)
    # Where nothing is drawn a weight is without end and its scale nothing: not named.
    with np.errstate(invalid="ignore", over="ignore"):
        bulk = weight * rows.scale > 1e-9 * rows.torque
        could = most * rows.scale > 1e-9 * rows.torque
        named = bulk | (could & ~bulk.any(axis=0))
        # Several limits on the same watts: none alone would do, and each is named.
        named[2:5] |= could[2:5] & (watts * rows.power > 1e-9 * rows.torque)
    limited = named[:6].T.copy()
    # Rows 0 and 6 are both "phase current": the vector's length, and the torque current alone.
    limited[:, 0] |= named[6]
    limited[dead] = False
    phase, pack, volt, ohm, along = np.where(np.isfinite(more), more, np.nan)
    gained = (phase, weight[1], pack, weight[3], volt, ohm, along)
    return limited, *(np.where(dead, np.nan, x) for x in gained)


class _Rows(NamedTuple):
    """Gradients of the limits in the plane (i_d, i_q).

    First axis: the six words, the torque current alone, i_d <= 0, a kink of the derating.
    """

    along_d: Array
    along_q: Array
    scale: Array
    torque: Array
    power: Array
    volts: Array


def _active(d: Drive, w: Array, i_d: Array, i_q: Array) -> tuple[_Rows, Met, tuple[Array, Array]]:
    """Gradients of the limits, which of them are met, and the gradient of torque."""
    length = np.hypot(i_d, i_q)
    size = np.maximum(length, 1e-300)
    factor, slope = derating_factor(d, length)
    raw = electromagnetic_torque(d, i_d, i_q)
    k = d.torque_per_weber_ampere
    torque_d = -factor * k * d.saliency * i_q + raw * slope * i_d / size
    torque_q = factor * k * (d.flux - d.saliency * i_d) + raw * slope * i_q / size
    power = input_power(d, w, i_d, i_q)
    power_d = 3 * d.resistance * i_d + w * torque_d
    power_q = 3 * d.resistance * i_q + w * torque_q
    v_d, v_q = phase_voltage(d, w, i_d, i_q)
    v = np.maximum(np.hypot(v_d, v_q), 1e-300)
    we = d.pole_pairs * w
    volts = sagged_voltage(d, power)
    u = d.modulation / SQRT3
    sag = u * d.pack_resistance / np.maximum(2 * volts - d.open_circuit_v, 1e-150)
    volt_d = (v_d * d.resistance + v_q * we * d.ld) / v + sag * power_d
    volt_q = (v_q * d.resistance - v_d * we * d.lq) / v + sag * power_q
    limits = power_limits(d)
    zero, one = np.zeros_like(w), np.ones_like(w)
    along_d = np.stack((i_d / size, -one, power_d, power_d, power_d, volt_d, zero, one))
    along_q = np.stack((i_q / size, zero, power_q, power_q, power_q, volt_q, one, zero))
    amperes = power / np.maximum(volts, 1e-300)
    phase = np.where(np.isinf(d.vector_a), d.torque_a, np.minimum(d.vector_a, d.torque_a))
    folds = np.isfinite(limits.foldback_a)
    with np.errstate(invalid="ignore", over="ignore"):
        slack = np.stack(
            (
                (d.vector_a - length) - MET * d.vector_a,
                (d.weakening_a + i_d) - MET * phase,
                (limits.pack_a - amperes) - MET * limits.pack_a,
                (limits.cap - power) - MET * limits.cap,
                np.minimum(
                    np.where(np.isinf(limits.cutoff), np.inf, volts - d.cutoff_v * (1 + MET)),
                    np.where(folds, limits.foldback_a * (1 - MET) - amperes, np.inf),
                ),
                u * volts * (1 - MET) - v,
                (d.torque_a - i_q) - MET * d.torque_a,
                -i_d - MET * phase,
            )
        )
    met = ~(slack > 0) & ~np.isnan(slack)
    # A kink in the derating holds a point as a limit on current does, without a name.
    kinks = np.abs(d.derating_a - length[:, None]) <= 1e-9 * length[:, None]
    kink = np.any(kinks, axis=1) & (d.derating_a.shape[-1] > 1)
    along_d = np.concatenate((along_d, (i_d / size)[None]))
    along_q = np.concatenate((along_q, (i_q / size)[None]))
    met = np.concatenate((met, kink[None]))
    big = np.maximum(size, 1e-12)
    scale = np.stack((big, big, power, power, power, u * volts, big, big, big))
    moment = np.maximum(derated_torque(d, i_d, i_q), factor * k * d.flux * big * 1e-9)
    return _Rows(along_d, along_q, scale, moment, power, volts), met, (torque_d, torque_q)


def _weights(
    rows: _Rows, met: Met, up: tuple[Array, Array], moved: Array
) -> tuple[Array, Array, Array, Array]:
    """Least and most weight of each limit over all the combinations that give the gradient.

    The third result is the least weight that the three limits on power have together; the fourth
    the least torque that any combination gives for a unit more of each input.
    """
    count, zero = met.shape[0], np.zeros(met.shape[1])
    bought = np.full((moved.shape[0], met.shape[1]), np.inf)
    least, most = np.full(met.shape, np.inf), np.zeros(met.shape)
    watts = np.full(met.shape[1], np.inf)
    up_d, up_q = up
    size = np.hypot(up_d, up_q)
    # A peak that a search has found is so only to the root of its torque's precision: where no
    # combination fits, the limit most nearly along the gradient is the one that holds the point.
    nearest = np.full(met.shape[1], NEARLY)
    alone = np.full(met.shape[1], -1)
    weight = np.zeros(met.shape[1])

    def note(at: Index, parts: dict[int, Array]) -> None:
        for j in range(count):
            part = parts.get(j, zero[at])
            least[j, at] = np.minimum(least[j, at], part)
            most[j, at] = np.maximum(most[j, at], part)
        together = sum((parts[j] for j in (2, 3, 4) if j in parts), zero[at])
        watts[at] = np.minimum(watts[at], together)
        gain = [np.where(part > 0, part * moved[:, j, at], 0.0) for j, part in parts.items()]
        bought[:, at] = np.minimum(bought[:, at], sum(gain))

    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for j in range(count):
            at = np.flatnonzero(met[j])
            if not at.size:
                continue
            a, b = rows.along_d[j, at], rows.along_q[j, at]
            y = (up_d[at] * a + up_q[at] * b) / (a * a + b * b)
            across = np.abs(up_d[at] * b - up_q[at] * a) / np.hypot(a, b)
            good = (y > 0) & (across <= 1e-7 * size[at])
            note(at[good], {j: y[good]})
            closer = (y > 0) & (across < nearest[at] * size[at])
            nearest[at[closer]] = across[closer] / size[at[closer]]
            alone[at[closer]], weight[at[closer]] = j, y[closer]
        for j, k in combinations(range(count), 2):
            at = np.flatnonzero(met[j] & met[k])
            if not at.size:
                continue
            a, b = rows.along_d[j, at], rows.along_q[j, at]
            c, e = rows.along_d[k, at], rows.along_q[k, at]
            det = a * e - c * b
            y = (up_d[at] * e - c * up_q[at]) / det
            z = (a * up_q[at] - up_d[at] * b) / det
            spread = np.hypot(a, b) * np.hypot(c, e)
            good = (np.abs(det) > 1e-12 * spread) & (y >= 0) & (z >= 0)
            note(at[good], {j: y[good], k: z[good]})
    for j in range(count):
        at = np.flatnonzero((alone == j) & np.isinf(watts))
        note(at, {j: weight[at]})
    found = np.isfinite(watts)
    least, watts = np.where(np.isinf(least), 0.0, least), np.where(found, watts, 0.0)
    return least, most, watts, np.where(found, bought, 0.0)
