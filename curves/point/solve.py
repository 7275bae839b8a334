"""The largest torque under every limit at once.

With the pack's sag inside, the voltage limit reads ``demanded_voltage <= sagged_voltage`` at the
same point. At a given torque the currents that every limit admits form an interval of i_d, and
these intervals shrink as torque rises. So either the most torque without the voltage limit already
keeps it, or the answer lies on the voltage limit, on the side of least weakening. On that limit the
whole state is a closed form of the load angle: for a phase voltage of a given direction, pack
volts solve a quadratic. What is left is one bracketed root a point.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index, bracketed_root
from curves.point import search
from curves.point.blocks import in_blocks, pick
from curves.point.limits import (
    SQRT3,
    Drive,
    current_by_power,
    demanded_voltage,
    derated_torque,
    input_power,
    is_derated,
    mtpa_current_d,
    phase_voltage,
    power_limits,
    sagged_voltage,
)
from curves.point.locus import WIDEST_LOAD_ANGLE, Locus, Path


class Point(NamedTuple):
    """Currents of most torque, peak A, and that torque before no-load torque, N m.

    All are NaN where no current within the limits gives a torque of zero or more.
    """

    torque: Array
    current_d: Array
    current_q: Array


def operating_point(d: Drive, speed: Array) -> Point:
    """The largest electromagnetic torque at each rotor speed.

    Args:
        d: The drive; its fields broadcast against ``speed``.
        speed: Rotor speed, rad/s, zero or more.

    Returns:
        Torque and currents in the broadcast shape.

    Source: the inequalities of the model page; unimodality as derived in the module's head.
    """
    return Point(*in_blocks(_solve, d, np.asarray(speed, dtype=np.float64)))


def voltage_room(d: Drive, speed: Array) -> Array:
    """Pack volts to spare at the point that would hold without the voltage limit.

    Negative exactly where the voltage limit costs torque; its first zero is the base speed.

    Args:
        d: The drive; its fields broadcast against ``speed``.
        speed: Rotor speed, rad/s.
    """
    return in_blocks(_room, d, np.asarray(speed, dtype=np.float64))[0]


def _solve(d: Drive, w: Array) -> tuple[Array, Array, Array]:
    limit = power_limits(d).total
    i_d, i_q = _without_voltage(d, w, limit)
    live = limit >= d.standby_w
    # A derated machine, or one whose windings hold no volts apart, has no closed form.
    det = d.resistance**2 + (d.pole_pairs * w) ** 2 * d.ld * d.lq
    odd = is_derated(d) | (det <= 1e-18 * (d.resistance**2 + (d.pole_pairs * w * d.lq) ** 2))
    fine = _spare_volts(d, w, i_d, i_q) >= 0
    bound = np.flatnonzero(live & ~fine & ~odd)
    lost = live & ((~fine & odd) | _boxed(d, i_q))
    if bound.size:
        i_d[bound], i_q[bound], gap = _with_voltage(
            pick(d, bound), w[bound], limit[bound], i_d[bound], i_q[bound]
        )
        lost[bound] = gap | _boxed(pick(d, bound), i_q[bound])
    i_d, i_q, lost = _before_saturation(d, w, i_d, i_q, lost)
    rest = np.flatnonzero(lost)
    if rest.size:
        i_d[rest], i_q[rest] = search.largest_torque(pick(d, rest), w[rest], limit[rest])
    i_d = np.where(live, i_d + 0.0, np.nan)
    i_q = np.where(live, i_q, np.nan)
    return derated_torque(d, i_d, i_q), i_d, i_q


def _before_saturation(
    d: Drive, w: Array, i_d: Array, i_q: Array, lost: NDArray[np.bool_]
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Answers of the closed form that lie below the first ampere of a derating, and what is left.

    A factor of at most 1 never lifts the most torque: where a derated point keeps all limits, so
    does one with i_q times the factor, the same torque, less power and less voltage. Where nothing
    keeps them (NaN), nothing derated does.
    """
    falls = np.max(d.derating, axis=-1) <= 1.0
    at = np.flatnonzero(lost & is_derated(d) & falls & (d.derating[:, 0] == 1.0))
    if at.size:
        s = pick(d, at)
        one = s._replace(derating_a=np.zeros((at.size, 1)), derating=np.ones((at.size, 1)))
        _, x, y = _solve(one, w[at])
        kept = np.isnan(x) | (np.hypot(x, y) <= s.derating_a[:, 0])
        i_d[at[kept]], i_q[at[kept]] = x[kept], y[kept]
        lost[at[kept]] = False
    return i_d, i_q, lost


def _room(d: Drive, w: Array) -> tuple[Array]:
    limit = power_limits(d).total
    i_d, i_q = _without_voltage(d, w, limit)
    live = limit >= d.standby_w
    boxed = np.flatnonzero(live & _boxed(d, i_q))
    if boxed.size:
        free = pick(d, boxed)
        free = free._replace(modulation=np.full_like(free.modulation, 1e12))
        i_d[boxed], i_q[boxed] = search.largest_torque(free, w[boxed], limit[boxed])
    room = _spare_volts(d, w, i_d, i_q)
    # A cap without resistance, or a torque current without saliency, leaves i_d free to weaken at
    # the same torque: there voltage limits only once torque falls.
    by_power = (d.resistance == 0) & (input_power(d, w, i_d, i_q) >= limit * (1 - 1e-12))
    by_torque = (d.saliency == 0) & (i_q >= d.torque_a * (1 - 1e-12))
    free_d = np.flatnonzero(live & (room < 0) & (by_power | by_torque))
    if free_d.size:
        part, at = pick(d, free_d), w[free_d]
        without = derated_torque(part, i_d[free_d], i_q[free_d])
        got = np.nan_to_num(_solve(part, at)[0], nan=-1.0)
        room[free_d] = np.where(got >= without * (1 - 1e-12), 0.0, got - without)
    return (np.where(live, room, np.inf),)


def _spare_volts(d: Drive, w: Array, i_d: Array, i_q: Array) -> Array:
    return sagged_voltage(d, input_power(d, w, i_d, i_q)) - demanded_voltage(d, w, i_d, i_q)


def _boxed(d: Drive, i_q: Array) -> NDArray[np.bool_]:
    """Where the limit on torque current alone lets a salient machine gain by more -i_d."""
    return (d.saliency > 0) & (i_q >= d.torque_a * (1 - 1e-12))


def _without_voltage(d: Drive, w: Array, limit: Array) -> tuple[Array, Array]:
    """Most torque under current, weakening and power: along most torque per ampere, then up."""
    budget = np.maximum(limit - d.standby_w, 0.0)
    box = np.where(np.isinf(d.torque_a), 0.0, d.torque_a)
    corner = np.hypot(box, mtpa_current_d(d.flux, d.saliency, box, True))
    most = np.where(np.isinf(d.torque_a), d.vector_a, np.minimum(d.vector_a, corner))
    current = np.minimum(most, current_by_power(1.5 * d.resistance, w * _slope(d, 0.0), budget))
    current = _along_mtpa(d, w, budget, current)
    i_d = mtpa_current_d(d.flux, d.saliency, current)
    i_q = np.sqrt(np.maximum((current - i_d) * (current + i_d), 0.0))
    clipped = np.flatnonzero(i_d > d.weakening_a)
    if clipped.size:
        c = pick(d, clipped)
        depth, copper = c.weakening_a, 1.5 * c.resistance
        by_length = np.sqrt(np.maximum((c.vector_a - depth) * (c.vector_a + depth), 0.0))
        left = np.maximum(budget[clipped] - copper * depth * depth, 0.0)
        up = current_by_power(copper, w[clipped] * _slope(c, depth), left)
        i_d[clipped], i_q[clipped] = depth, np.minimum(np.minimum(by_length, up), c.torque_a)
    i_d = -i_d
    derated = np.flatnonzero(is_derated(d))
    if derated.size:
        i_d[derated], i_q[derated] = _derated_path(
            pick(d, derated), w[derated], budget[derated], most[derated]
        )
    return i_d, i_q


def _slope(d: Drive, depth: Array | float) -> Array:
    """Torque per ampere of i_q at a weakening of ``depth`` A."""
    return d.torque_per_weber_ampere * (d.flux + d.saliency * depth)


def _on_path(d: Drive, current: Array) -> tuple[Array, Array]:
    """Currents of most torque for a vector of this length within the weakening limit."""
    depth = np.minimum(mtpa_current_d(d.flux, d.saliency, current), d.weakening_a)
    return -depth, np.sqrt(np.maximum((current - depth) * (current + depth), 0.0))


def _derated_path(d: Drive, w: Array, budget: Array, most: Array) -> tuple[Array, Array]:
    """As ``_without_voltage`` where torque is derated: the power still rises along the path."""

    def left(current: Array, at: Index) -> Array:
        part = pick(d, at)
        i_d, i_q = _on_path(part, current)
        with np.errstate(invalid="ignore"):
            drawn = input_power(part, w[at], i_d, i_q) - part.standby_w
            return np.where(np.isinf(budget[at]), 1.0, budget[at] - drawn)

    every = np.arange(w.size)
    zero, end = np.zeros_like(w), left(most, every)
    root = bracketed_root(left, zero, most, budget, end)
    return _on_path(d, np.where(end >= 0, most, root))


def _along_mtpa(d: Drive, w: Array, budget: Array, start: Array) -> Array:
    """Current vector on most torque per ampere that draws ``budget``, from above, by Newton.

    The power is convex and rising in the current, so every step stays above the root.
    """
    current = np.copy(start)
    at = np.flatnonzero(np.isfinite(budget) & np.isfinite(start) & (start > 0) & (d.saliency > 0))
    flux, saliency, copper = d.flux[at], d.saliency[at], 1.5 * d.resistance[at]
    turn, most = w[at] * d.torque_per_weber_ampere[at], budget[at]
    i = current[at]
    for _ in range(60):
        i_d = mtpa_current_d(flux, saliency, i)
        i_q = np.sqrt((i - i_d) * (i + i_d))
        psi = flux + saliency * i_d
        excess = copper * i * i + turn * psi * i_q - most
        step = excess / (2 * copper * i + turn * psi * i / i_q + 1e-300)
        step = np.where(step > 4e-16 * i, step, 0.0)
        i = i - step
        if not step.any():
            break
    current[at] = i
    return current


def _with_voltage(
    d: Drive, w: Array, limit: Array, i_d: Array, i_q: Array
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Most torque on the voltage limit, given the point that would hold without it.

    The third result marks the points whose way along the limit is not a single curve over the load
    angle (a salient machine near the most power its pack can give).
    """
    start_d, start_q = _entry(d, w, limit, np.hypot(i_d, i_q))
    # At the weakening limit already, or nowhere within it: nothing is left to choose.
    free = np.flatnonzero(-start_d < d.weakening_a)
    lost = np.zeros(w.shape, dtype=np.bool_)
    if free.size:
        part, at = pick(d, free), w[free]
        entry_d, entry_q = start_d[free], start_q[free]
        v_d, v_q = phase_voltage(part, at, entry_d, entry_q)
        locus = Locus(part, at, limit[free], np.hypot(i_d[free], i_q[free]))
        low = np.minimum(np.arctan2(-v_d, v_q), WIDEST_LOAD_ANGLE)
        high = np.full_like(low, WIDEST_LOAD_ANGLE)
        every = np.arange(free.size)
        f_low = np.maximum(locus.room(low, every), 0.0)
        f_high = locus.room(high, every)
        root = bracketed_root(locus.room, low, high, f_low, f_high, enough=1e-14)
        found_d, found_q = locus.currents(root)
        stay = f_low == 0
        start_d[free] = np.where(stay, entry_d, found_d)
        start_q[free] = np.where(stay, entry_q, np.maximum(found_q, 0.0))
        # Off the curve at its entry, or ended by a gap in it instead of a limit.
        there_d, there_q = locus.currents(low)
        off = np.hypot(there_d - entry_d, there_q - entry_q) > 1e-6 * locus.scale
        lost[free] = off | (locus.room(root, every) > 1e-5)
    return start_d, start_q, lost


def _entry(d: Drive, w: Array, limit: Array, length: Array) -> tuple[Array, Array]:
    """Where the voltage limit is first met: on the way up to most torque, or at zero torque.

    The way up keeps to most torque per ampere until the weakening limit, to a vector of
    ``length``. Where even zero current breaks the voltage limit, the least weakening that keeps it
    at zero torque is the entry (NaN where none does).
    """
    idle = w * d.pole_pairs * d.flux * SQRT3 / d.modulation - sagged_voltage(d, d.standby_w)
    start_d, start_q = np.full_like(w, np.nan), np.full_like(w, np.nan)
    up = np.flatnonzero(idle <= 0)
    if up.size:
        s, full = pick(d, up), length[up]
        path = Path(s, w[up])
        lack = path.lack(full, np.arange(up.size))
        root = bracketed_root(path.lack, np.zeros(up.size), full, np.minimum(idle[up], 0.0), lack)
        start_d[up], start_q[up] = _on_path(s, root)
    down = np.flatnonzero(idle > 0)
    if down.size:
        start_d[down] = search.least_weakening(pick(d, down), w[down], limit[down])
        start_q[down] = np.where(np.isnan(start_d[down]), np.nan, 0.0)
    return start_d, start_q
