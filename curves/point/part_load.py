"""The least current for a demanded torque, under the same limits as the largest torque.

Copper loss and so input power are least where the current is shortest: most torque per ampere
while the voltage suffices, else the nearest i_d that keeps the voltage limit. The currents that
hold a torque form an interval of i_d which shrinks as torque rises, so the point of most torque
lies in all of them: it and the point of least current bracket the answer.
"""

from __future__ import annotations

import numpy as np

from curves.numerics.roots import Array, Index, bracketed_root
from curves.point.blocks import in_blocks, pick
from curves.point.limits import (
    Drive,
    demanded_voltage,
    derated_torque,
    derating_factor,
    input_power,
    is_derated,
    mtpa_current_d,
    sagged_voltage,
)
from curves.point.solve import Point, operating_point

AT_MOST = 1e-9
"""A torque this little above the most, relative, is held with the most."""
GRID = 65


def part_load(d: Drive, speed: Array, torque: Array, most: Point | None = None) -> Point:
    """The shortest current vector for a torque at each rotor speed.

    Args:
        d: The drive; its fields broadcast against the arrays.
        speed: Rotor speed, rad/s, zero or more.
        torque: Electromagnetic torque wanted, N m; negative brakes, within the limits on phase
            current, weakening and voltage alone.
        most: The point of most torque at these speeds, if at hand.

    Returns:
        The point in the broadcast shape; NaN where the torque is beyond the limits.
    """
    w = np.asarray(speed, dtype=np.float64)
    wanted = np.asarray(torque, dtype=np.float64)
    top = operating_point(d, w) if most is None else most
    i_d, i_q = in_blocks(_kernel, d, w, wanted, top.torque, top.current_d, top.current_q)
    held = np.where(np.isnan(i_d), np.nan, np.broadcast_to(wanted, i_d.shape))
    return Point(held, i_d, i_q)


def _kernel(
    d: Drive, w: Array, torque: Array, most: Array, most_d: Array, most_q: Array
) -> tuple[Array, Array]:
    i_d, i_q = np.full(w.shape, np.nan), np.full(w.shape, np.nan)
    drive = np.flatnonzero((torque >= 0) & (torque <= most * (1 + AT_MOST)))
    if drive.size:
        i_d[drive], i_q[drive] = _driving(
            pick(d, drive), w[drive], np.minimum(torque, most)[drive], most_d[drive], most_q[drive]
        )
    brake = np.flatnonzero(torque < 0)
    if brake.size:
        i_d[brake], i_q[brake] = _braking(pick(d, brake), w[brake], -torque[brake])
    return i_d, i_q


def _driving(
    d: Drive, w: Array, torque: Array, most_d: Array, most_q: Array
) -> tuple[Array, Array]:
    i_d, i_q = _least_current(d, torque, np.hypot(most_d, most_q))
    short = np.flatnonzero(_room(d, w, i_d, i_q) < 0)
    if short.size:
        part, ws, want = pick(d, short), w[short], torque[short]
        i_d[short], i_q[short] = _nearest(part, ws, want, i_d[short], most_d[short], 1.0)
    return i_d, i_q


def _braking(d: Drive, w: Array, torque: Array) -> tuple[Array, Array]:
    """As driving, with i_q turned round; here the voltage that holds is looked for in steps."""
    with np.errstate(divide="ignore"):
        widest = np.minimum(np.minimum(d.weakening_a, d.vector_a), 2 * d.flux / d.ld)
    i_d, i_q = _least_current(d, torque, _enough(d, torque))
    short = np.flatnonzero(_room(d, w, i_d, -i_q) < 0)
    if short.size:
        part, ws, want = pick(d, short), w[short], torque[short]
        steps = i_d[short][:, None] + np.linspace(0.0, 1.0, GRID) * (
            -widest[short][:, None] - i_d[short][:, None]
        )
        each = Drive(*(np.repeat(x, GRID, axis=0) for x in part))
        q = _current_q(each, np.repeat(want, GRID), steps.ravel())
        room = _room(each, np.repeat(ws, GRID), steps.ravel(), -q).reshape(steps.shape)
        best = np.argmax(room, axis=1)
        inner = steps[np.arange(short.size), best]
        i_d[short], i_q[short] = _nearest(part, ws, want, i_d[short], inner, -1.0)
    size = np.hypot(i_d, i_q)
    beyond = (size > d.vector_a * (1 + AT_MOST)) | (i_q > d.torque_a * (1 + AT_MOST))
    beyond |= (-i_d > d.weakening_a * (1 + AT_MOST)) | (_room(d, w, i_d, -i_q) < -AT_MOST)
    return np.where(beyond, np.nan, i_d), np.where(beyond, np.nan, -i_q)


def _enough(d: Drive, torque: Array) -> Array:
    """A current that gives at least this torque without the magnets' help from saliency."""
    per_ampere = d.torque_per_weber_ampere * d.flux * d.derating.min(axis=-1)
    enough: Array = torque / per_ampere * (1 + 1e-12)
    return enough


def _least_current(d: Drive, torque: Array, longest: Array) -> tuple[Array, Array]:
    """The shortest vector for a torque within the weakening limit, whatever the voltage."""

    def on_path(part: Drive, length: Array) -> tuple[Array, Array]:
        depth = np.minimum(mtpa_current_d(part.flux, part.saliency, length), part.weakening_a)
        return -depth, np.sqrt(np.maximum((length - depth) * (length + depth), 0.0))

    plain = torque / (d.torque_per_weber_ampere * d.flux)
    bent = np.flatnonzero((d.saliency > 0) | is_derated(d))
    length = np.copy(plain)
    if bent.size:
        s, want, end = pick(d, bent), torque[bent], longest[bent]

        def lack(x: Array, at: Index) -> Array:
            part = s if at.size == bent.size else pick(s, at)
            missing: Array = want[at] - derated_torque(part, *on_path(part, x))
            return missing

        every = np.arange(bent.size)
        zero = np.zeros(bent.size)
        length[bent] = bracketed_root(lack, zero, end, want, np.minimum(lack(end, every), 0.0))
    i_d, _ = on_path(d, length)
    return i_d, _current_q(d, torque, i_d)


def _current_q(d: Drive, torque: Array, i_d: Array) -> Array:
    """The i_q that gives a torque together with an i_d."""
    plain = torque / (d.torque_per_weber_ampere * (d.flux - d.saliency * i_d))
    if not np.any(is_derated(d)):
        return plain
    least = d.derating.min(axis=-1)
    with np.errstate(divide="ignore"):
        high = np.where(plain > 0, plain / least, 0.0)

    def lack(q: Array, at: Index) -> Array:
        part = pick(d, at)
        return plain[at] - q * derating_factor(part, np.hypot(i_d[at], q))[0]

    every = np.arange(plain.size)
    f_low, f_high = np.maximum(lack(plain, every), 0.0), np.minimum(lack(high, every), 0.0)
    return bracketed_root(lack, plain, high, f_low, f_high)


def _room(d: Drive, w: Array, i_d: Array, i_q: Array) -> Array:
    """What is left, as a fraction, of the voltage and of the limit on torque current."""
    power = input_power(d, w, i_d, i_q)
    volts = (sagged_voltage(d, power) - demanded_voltage(d, w, i_d, i_q)) / d.open_circuit_v
    with np.errstate(invalid="ignore", divide="ignore"):
        boxed = np.where(np.isinf(d.torque_a), np.inf, (d.torque_a - np.abs(i_q)) / d.torque_a)
    return np.asarray(np.fmin(volts, boxed))


def _nearest(
    d: Drive, w: Array, torque: Array, start_d: Array, inner_d: Array, sign: float
) -> tuple[Array, Array]:
    """From an i_d within the limits towards the one of least current, to where a limit is met."""

    def room(x: Array, at: Index) -> Array:
        part = d if at.size == w.size else pick(d, at)
        return _room(part, w[at], x, sign * _current_q(part, torque[at], x))

    every = np.arange(w.size)
    f_in = np.maximum(room(inner_d, every), 0.0)
    i_d = bracketed_root(room, inner_d, start_d, f_in, room(start_d, every))
    return i_d, _current_q(d, torque, i_d)
