"""Largest torque by search over i_d: slower, and free of the closed form's assumptions.

It serves measured derating, a limit on the torque current of a salient machine, and windings
without inductance or resistance; and it is the check on the closed form.
"""

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index, bracketed_root
from curves.point import corner
from curves.point.blocks import pick
from curves.point.limits import (
    SQRT3,
    Drive,
    current_by_power,
    demanded_voltage,
    derated_torque,
    derating_factor,
    input_power,
    sagged_voltage,
)

FIRST_NODES, FEW_NODES, NODES, PASSES = 65, 17, 17, 15
"""A machine of several peaks needs many nodes at first; each later pass narrows the interval
eightfold, to 1e-15 of its width in the end: pack volts near half of V_oc show the root of what
power is off by."""
LOOKS = (0, 1, 3, 6)
"""Passes after which the peak is worked out from what the nodes show of it."""


def largest_torque(d: Drive, w: Array, limit: Array) -> tuple[Array, Array]:
    """Currents of most torque, peak A; NaN where no torque of zero or more is within the limits.

    Args:
        d: Drives, every field of shape (n,) (derating fields (n, k)).
        w: Rotor speed, rad/s, shape (n,).
        limit: The most power that may be drawn, W, shape (n,).
    """
    low, high, possible = zero_torque_interval(d, w, limit)
    # Without any current too fast already: the sag of the weakening itself counts.
    zero = np.zeros_like(w)
    fast = np.flatnonzero(
        possible & (demanded_voltage(d, w, zero, zero) > sagged_voltage(d, d.standby_w))
    )
    high[fast] = least_weakening(pick(d, fast), w[fast], limit[fast])
    possible &= low <= high
    i_d, i_q = np.full_like(w, np.nan), np.full_like(w, np.nan)
    laws = corner.Laws(d, w, limit)
    single = laws.concave()
    for nodes, group in ((FEW_NODES, single), (FIRST_NODES, ~single)):
        at = np.flatnonzero(possible & group)
        if at.size:
            i_d[at], i_q[at] = _narrowed(laws.pick(at), low[at], high[at], nodes)
    return i_d, i_q


def _narrowed(laws: corner.Laws, low: Array, high: Array, count: int) -> tuple[Array, Array]:
    """The peak between two i_d, from ``count`` nodes on."""
    i_d, i_q, top = (np.full_like(low, np.nan) for _ in range(3))
    a, b, at = low, high, np.arange(low.size)
    for n in range(PASSES + 1):
        part = laws.pick(at)
        x = a[:, None] + (b - a)[:, None] * np.linspace(0.0, 1.0, count)
        enough = corner.COARSE if n < 2 else 0.0
        value, q = _score(part.d, part.w, part.limit, x, enough)
        best = np.argmax(value, axis=1)[:, None]
        three = np.clip(best + np.array([-1, 0, 1]), 0, count - 1)
        near, up, torque = (np.take_along_axis(y, three, 1).T for y in (x, q, value))
        i_d[at], i_q[at], top[at] = near[1], up[1], torque[1]
        a, b = near[0], near[2]
        count = NODES
        if n in LOOKS:
            scan = corner.Scan(near, up, torque, low[at], high[at])
            found, *point = corner.settled(part, scan)
            i_d[at], i_q[at] = point
            go = ~found
            at, a, b = at[go], a[go], b[go]
            if not at.size:
                return i_d, i_q
    d, w, limit = laws.d, laws.w, laws.limit
    # Without resistance under a limit on power, or without saliency under one on the torque
    # current, torque is level over a stretch of i_d. A peak is not: shifting it would cost digits.
    drawn = input_power(d, w, i_d, i_q)
    level = (d.resistance == 0) & (drawn >= limit * (1 - 1e-12))
    level |= (d.saliency == 0) & (i_q >= d.torque_a * (1 - 1e-12))
    flat = at[(level & (top > 0))[at]]
    if flat.size:
        s = pick(d, flat)
        i_d[flat], i_q[flat] = _least_current(
            s, w[flat], limit[flat], low[flat], high[flat], top[flat], i_d[flat], i_q[flat]
        )
    none = at[top[at] < 0]
    i_d[none] = i_q[none] = np.nan
    return i_d, i_q


def zero_torque_interval(
    d: Drive, w: Array, limit: Array
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """i_d outside of which even zero torque breaks a limit, and whether anything is left.

    Args:
        d: Drives, every field of shape (n,).
        w: Rotor speed, rad/s, shape (n,).
        limit: The most power that may be drawn, W, shape (n,).
    """
    we = d.pole_pairs * w
    most = d.modulation / SQRT3 * sagged_voltage(d, d.standby_w)
    square = d.resistance**2 + (we * d.ld) ** 2
    middle = we * we * d.flux * d.ld
    rest = (we * d.flux) ** 2 - most * most
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        root = np.sqrt(np.maximum(middle * middle - square * rest, 0.0))
        left = np.where(square > 0, (-middle - root) / square, -np.inf)
        right = np.where((square > 0) & (rest > 0), (-middle + root) / square, 0.0)
        by_power = np.sqrt(np.maximum(limit - d.standby_w, 0.0) / (1.5 * d.resistance))
    by_power = np.where(np.isnan(by_power), np.inf, by_power)
    depth = np.minimum(np.minimum(d.weakening_a, d.vector_a), by_power)
    low, high = np.maximum(-depth, left), np.minimum(right, 0.0)
    possible = (low <= high) & ((square > 0) | (rest <= 0)) & (limit >= d.standby_w)
    possible &= middle * middle - square * rest >= 0
    # Nothing but the torque current is limited: i_d costs nothing, so it stays at zero.
    low = np.where(possible & np.isfinite(low), low, 0.0)
    return low, np.where(possible, high, 0.0), possible


def _score(d: Drive, w: Array, limit: Array, x: Array, enough: float = 0.0) -> tuple[Array, Array]:
    """Torque at the largest i_q for each i_d in ``x`` (n, k); below zero how far i_q = 0 is out."""
    n, k = x.shape
    each = Drive(*(np.repeat(y, k, axis=0) for y in d))
    ws, most, i_d = np.repeat(w, k), np.repeat(limit, k), x.ravel()
    we, up = each.pole_pairs * ws, SQRT3 / each.modulation
    half = each.open_circuit_v / 2
    bounded = np.isfinite(most)
    rows = np.stack(
        (
            i_d,
            ws * each.torque_per_weber_ampere * (each.flux - each.saliency * i_d),
            *(1.5 * each.resistance, each.standby_w, half, each.pack_resistance),
            *(each.resistance * i_d * up, we * each.lq * up, each.resistance * up),
            we * (each.ld * i_d + each.flux) * up,
            np.where(bounded, most, 0.0),
            np.where(bounded, 1 / (np.abs(most) + 1e-12), 0.0),
        )
    )
    derated = each.derating.shape[-1] > 1

    def margin(i_q: Array, at: Index) -> Array:
        whole = at.size == i_d.size
        i, turn, copper, idle, half, ohm, v_d, xq, r, v_q, la, per = rows if whole else rows[:, at]
        if derated:
            table = each._replace(
                derating_a=each.derating_a if whole else each.derating_a[at],
                derating=each.derating if whole else each.derating[at],
            )
            turn = turn * derating_factor(table, np.hypot(i, i_q))[0]
        power = idle + copper * (i * i + i_q * i_q) + turn * i_q
        sagged = half + np.sqrt(np.maximum(half * half - ohm * power, 0.0))
        volts = sagged - np.hypot(v_d - xq * i_q, v_q + r * i_q)
        # Without a limit on power the watts are no bound.
        watts = np.where(per > 0, (la - power) * per, np.inf)
        return np.asarray(np.minimum(volts / (2 * half), watts))

    length = np.sqrt(np.maximum((each.vector_a - i_d) * (each.vector_a + i_d), 0.0))
    impedance = np.hypot(each.resistance, each.pole_pairs * ws * each.lq)
    with np.errstate(divide="ignore"):
        by_volts = each.modulation / SQRT3 * each.open_circuit_v / impedance
    # A bracket that ends far past the power there is takes a hundred steps to close.
    copper, turn = rows[2], rows[1] * each.derating.min(axis=-1)
    by_watts = current_by_power(copper, turn, np.maximum(most - rows[3] - copper * i_d * i_d, 0.0))
    top = np.minimum(length, each.torque_a)
    top = np.minimum(top, np.minimum(by_volts, by_watts) * (1 + 1e-9))
    every, zero = np.arange(n * k), np.zeros(n * k)
    at_zero, at_top = margin(zero, every), margin(top, every)
    i_q = bracketed_root(margin, zero, top, np.maximum(at_zero, 0.0), at_top, enough=enough)
    i_q = np.where(at_top >= 0, top, i_q)
    out = at_zero < 0
    value = np.where(out, np.minimum(at_zero, -1e-300), derated_torque(each, i_d, i_q))
    return value.reshape(n, k), np.where(out, 0.0, i_q).reshape(n, k)


def _least_current(
    d: Drive, w: Array, limit: Array, low: Array, high: Array, top: Array, i_d: Array, i_q: Array
) -> tuple[Array, Array]:
    """Among equal torques, the shortest current vector."""
    a, b = low, high
    best_d, best_q = np.copy(i_d), np.copy(i_q)
    for _ in range(PASSES + 4):
        x = np.sort(
            np.concatenate(
                (a[:, None] + (b - a)[:, None] * np.linspace(0, 1, 17), best_d[:, None]), 1
            )
        )
        value, q = _score(d, w, limit, x)
        length = np.where(value >= top[:, None] * (1 - 1e-13), np.hypot(x, q), np.inf)
        k = np.argmin(length, axis=1)[:, None]
        new = np.take_along_axis(length, k, 1)[:, 0] < np.hypot(best_d, best_q)
        best_d = np.where(new, np.take_along_axis(x, k, 1)[:, 0], best_d)
        best_q = np.where(new, np.take_along_axis(q, k, 1)[:, 0], best_q)
        a = np.take_along_axis(x, np.maximum(k - 1, 0), 1)[:, 0]
        b = np.take_along_axis(x, np.minimum(k + 1, x.shape[1] - 1), 1)[:, 0]
    return best_d, best_q


def least_weakening(d: Drive, w: Array, limit: Array) -> Array:
    """The i_d nearest zero at which zero torque keeps the voltage limit; i_d = 0 must not.

    Newton on a convex function from its right-hand side: no step passes the root.

    Args:
        d: Drives, every field of shape (n,).
        w: Rotor speed, rad/s, shape (n,).
        limit: The most power that may be drawn, W, shape (n,).

    Returns:
        i_d in A, shape (n,); NaN where none within the other limits does.
    """
    we = d.pole_pairs * w
    rows = np.stack(
        (
            *(d.standby_w, d.resistance, d.pack_resistance, d.open_circuit_v / 2, d.flux, d.ld),
            *(we, d.modulation**2 / 3, np.minimum(d.weakening_a, d.vector_a), limit),
        )
    )
    x = np.zeros_like(w)
    result = np.full_like(w, np.nan)
    at = np.arange(w.size)
    for _ in range(200):
        if not at.size:
            break
        idle, r, ohm, half, flux, ld, e, share, most, watts = rows
        power = idle + 1.5 * r * x * x
        root = np.sqrt(np.maximum(half * half - ohm * power, 0.0))
        volts, psi = half + root, flux + ld * x
        excess = (r * x) ** 2 + (e * psi) ** 2 - share * volts * volts
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            sag = np.where(ohm > 0, volts * ohm / (2 * root), 0.0)
            slope = 2 * r * r * x + 2 * e * e * ld * psi + share * 6 * sag * r * x
            step = excess / slope
        out = (-x > most) | (power > watts)
        found = ~out & (excess <= 4e-16 * (e * flux) ** 2)
        result[at[found]] = x[found]
        go = ~out & ~found & (slope > 0)
        at, rows, x = at[go], rows[:, go], x[go] - step[go]
    return result
