"""The last digits of a searched peak: it lies where two limits meet, or where one runs level.

A coarse scan over i_d brackets the peak and tells which limits are near it. Newton then solves for
each pair of conditions the scan allows. A point counts only where it keeps every limit, gives no
less than the scan did, and loses torque to either side; what fails is left to the search.

Where the derating factor is concave and falls, torque is log-concave in (i_d, i_q), its upper level
sets are convex, and so the one peak is the only one.
"""

from typing import Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index
from curves.point.limits import Drive

Numbers: TypeAlias = NDArray[Any]
"""Real or, for slopes by a complex step, complex."""

VOLTS, WATTS, LENGTH, TORQUE, END, KINK, LEVEL = range(7)
"""Four limits; an end of the range of i_d; a kink of the derating; torque level along a limit."""
STEP = 1e-150
"""Of the complex step: its square vanishes, so that derivatives come out exact."""
ROUNDS, ENOUGH = 12, 1e-9
"""The most steps of Newton, and the step, as a share of the current, that is the last: the error
left is of the order of its square."""
BROKEN, MET = 1e-13, 1e-11
"""As a share of a limit: how far rounding may break it, and how near it counts as met."""
LOSES = 1e-10
"""Share of its terms by which a slope of torque may be off zero, i_q taken ampere for ampere."""
COARSE, NEAR = 1e-10, 1e-7
"""What a scan leaves of a limit, as a share: it only shows where the peak is. What that may change
of its torque."""


class Scan(NamedTuple):
    """Three neighbouring nodes of a scan, the best amid them, each (3, n), and the range (n,)."""

    i_d: Array
    i_q: Array
    torque: Array
    low: Array
    high: Array


class _At(NamedTuple):
    """Torque and the limits as excesses (above zero is broken), with slopes along i_d and i_q."""

    torque: Numbers
    torque_d: Numbers
    torque_q: Numbers
    over: Numbers
    over_d: Numbers
    over_q: Numbers


class Laws:
    """Torque and limits of some drives at given currents, real or complex.

    Args:
        d: Drives, every field of shape (n,) (derating fields (n, k)).
        w: Rotor speed, rad/s, shape (n,).
        limit: The most power that may be drawn, W, shape (n,).
    """

    def __init__(self, d: Drive, w: Array, limit: Array) -> None:
        self.d, self.w, self.limit = d, w, limit
        bend = np.zeros((w.size, d.derating.shape[-1] + 1))
        with np.errstate(divide="ignore", invalid="ignore"):
            rise = np.diff(d.derating, axis=-1) / np.diff(d.derating_a, axis=-1)
        bend[:, 1:-1] = np.where(np.diff(d.derating_a, axis=-1) > 0, rise, 0.0)
        self.bend = bend

    def pick(self, at: Index) -> "Laws":
        """The laws of the drives at some positions."""
        part = object.__new__(Laws)
        part.d, part.w = Drive(*(x[at] for x in self.d)), self.w[at]
        part.limit, part.bend = self.limit[at], self.bend[at]
        return part

    def concave(self) -> NDArray[np.bool_]:
        """Where the derating only falls, ever steeper, up to the phase current limit: one peak."""
        a = self.d.derating_a
        bend, reach = self.bend, a < self.d.vector_a[:, None]
        # Points repeated to fill a table have no slope of their own.
        same = np.zeros_like(reach)
        same[:, 1:] = np.diff(a, axis=-1) <= 0
        fine = (bend[:, 1:] <= bend[:, :-1]) | ~reach
        return np.asarray(np.all(fine, axis=-1) & ~np.any(same & reach, axis=-1))

    def _factor(self, length: Numbers, side: float) -> tuple[Array, Array]:
        """Derating at a vector's length and its slope, at a kink towards ``side``."""
        a, y = self.d.derating_a, self.d.derating
        size = length.real * (1 + side * MET)
        after = np.zeros(size.shape, dtype=np.intp)
        for column in a.T:
            after += column < size
        points = np.arange(a.shape[0])
        start = np.maximum(after - 1, 0)
        slope = self.bend[points, after]
        return y[points, start] + slope * (length - a[points, start]), slope

    def at(self, i_d: Numbers, i_q: Numbers, side: float = 0.0) -> _At:
        """Everything at currents of shape (..., n)."""
        d, w = self.d, self.w
        square = i_d * i_d + i_q * i_q
        length = np.sqrt(square)
        factor, bend = self._factor(length, side)
        per, psi = d.torque_per_weber_ampere, d.flux - d.saliency * i_d
        torque = per * psi * i_q * factor
        torque_d = per * i_q * (psi * bend * i_d / length - d.saliency * factor)
        torque_q = per * psi * (factor + bend * i_q * i_q / length)
        copper = 1.5 * d.resistance
        power = d.standby_w + copper * square + w * torque
        power_d, power_q = 2 * copper * i_d + w * torque_d, 2 * copper * i_q + w * torque_q
        half, we = d.open_circuit_v / 2, d.pole_pairs * w
        under = half * half - d.pack_resistance * power
        root = np.sqrt(np.where(under.real > 0, under, 0.0))
        volts, sag = half + root, d.pack_resistance / (2 * root)
        v_d, v_q = (
            d.resistance * i_d - we * d.lq * i_q,
            d.resistance * i_q + we * (d.ld * i_d + d.flux),
        )
        up, unit = 3 / d.modulation**2, 1 / (4 * half * half)
        watt = np.where(np.isfinite(self.limit), 1 / (np.abs(self.limit) + 1e-12), 0.0)
        watts = np.where(watt > 0, (power - np.where(watt > 0, self.limit, 0.0)) * watt, -1.0)
        vector, box = 1 / d.vector_a, 1 / d.torque_a
        zero = np.zeros_like(i_q)
        over = (
            (up * (v_d * v_d + v_q * v_q) - volts * volts) * unit,
            *(watts, square * vector**2 - 1, i_q * box - 1),
        )
        turn_d = v_d * d.resistance + v_q * we * d.ld
        turn_q = v_q * d.resistance - v_d * we * d.lq
        over_d = (
            2 * (up * turn_d + volts * sag * power_d) * unit,
            *(power_d * watt, 2 * i_d * vector**2, zero),
        )
        over_q = (
            2 * (up * turn_q + volts * sag * power_q) * unit,
            *(power_q * watt, 2 * i_q * vector**2, zero + box),
        )
        return _At(torque, torque_d, torque_q, *(np.stack(x) for x in (over, over_d, over_q)))


class _Try(NamedTuple):
    """A guess: two conditions a drive, where it is worth it, and where to begin."""

    worth: NDArray[np.bool_]
    first: Index
    second: Index
    i_d: Array
    i_q: Array
    value: Array
    """The i_d of an end, or the length of a kink, A."""

    def pick(self, at: Index) -> "_Try":
        """The guesses of the drives at some positions."""
        part: tuple[Any, ...] = tuple(x[at] for x in self)
        return _Try(*part)


def settled(laws: Laws, scan: Scan) -> tuple[NDArray[np.bool_], Array, Array]:
    """The peak amid three nodes of a scan.

    Args:
        laws: Of n drives.
        scan: What was found of each.

    Returns:
        Where the peak was found, and its i_d and i_q, peak A, each of shape (n,).
    """
    found = np.zeros(scan.low.shape, dtype=np.bool_)
    i_d, i_q = np.copy(scan.i_d[1]), np.copy(scan.i_q[1])
    with np.errstate(all="ignore"):
        for guess in _guesses(laws, scan):
            at = np.flatnonzero(guess.worth & ~found)
            if not at.size:
                continue
            part, here = laws.pick(at), guess.pick(at)
            x, y = _newton(part, here)
            good = _peak(part, Scan(*(s[..., at] for s in scan)), x, y)
            found[at], i_d[at], i_q[at] = (
                good,
                *(np.where(good, new, old[at]) for new, old in ((x, i_d), (y, i_q))),
            )
    return found, i_d, i_q


def _guesses(laws: Laws, scan: Scan) -> list[_Try]:
    n = scan.low.size
    near = np.argmax(laws.at(scan.i_d, scan.i_q).over, axis=0)
    left, best, right = near
    length = np.hypot(scan.i_d, scan.i_q)
    a = laws.d.derating_a
    within = (a > length.min(axis=0)[:, None]) & (a < length.max(axis=0)[:, None])
    kink = a[np.arange(n), np.argmax(within, axis=1)]
    live = scan.torque[1] >= 0
    (d_0, d_1, d_2), (q_0, q_1, q_2) = scan.i_d, scan.i_q
    every = np.full(n, True)
    ended = (d_1 <= scan.low) | (d_1 >= scan.high)

    def guess(worth: NDArray[np.bool_], first: int | Index, second: Index, *start: Array) -> _Try:
        return _Try(worth & live, np.broadcast_to(first, n), second, *start)

    return [
        guess(ended, END, best, d_1, q_1, d_1),
        guess(left != best, left, best, d_1, q_1, d_1),
        guess(right != best, right, best, d_1, q_1, d_1),
        guess(every, LEVEL, best, d_1, q_1, d_1),
        guess(within.any(axis=1), KINK, best, d_1, q_1, kink),
        guess(best != VOLTS, VOLTS, best, d_1, q_1, d_1),
        guess(left != best, LEVEL, left, d_0, q_0, d_1),
        guess(right != best, LEVEL, right, d_2, q_2, d_1),
    ]


def _newton(laws: Laws, guess: _Try) -> tuple[Array, Array]:
    """Currents at which both conditions hold, if the steps find any."""
    x, y = np.copy(guess.i_d), np.copy(guess.i_q)
    at = np.arange(x.size)
    for _ in range(ROUNDS):
        i_d = np.stack((x[at] + 1j * STEP, x[at] + 0j))
        i_q = np.stack((y[at] + 0j, y[at] + 1j * STEP))
        values = _conditions(laws, guess, i_d, i_q)
        (a, c), (b, e) = values[:, 0].imag / STEP, values[:, 1].imag / STEP
        f, g = values[:, 0].real
        whole = a * e - b * c
        step_d, step_q = (f * e - g * b) / whole, (a * g - c * f) / whole
        x[at] -= step_d
        y[at] -= step_q
        go = np.abs(step_d) + np.abs(step_q) > ENOUGH * np.hypot(x[at], y[at])
        if not go.any():
            break
        if not go.all():
            at, laws, guess = at[go], laws.pick(np.flatnonzero(go)), guess.pick(np.flatnonzero(go))
    return x, y


def _conditions(laws: Laws, guess: _Try, i_d: Numbers, i_q: Numbers) -> Numbers:
    """What the two conditions are off by, shape (2, 2, n)."""
    here = laws.at(i_d, i_q)
    second = guess.second[None, None, :]
    limit, along_d, along_q = (
        np.take_along_axis(x, second, 0)[0] for x in (here.over, here.over_d, here.over_q)
    )
    level = here.torque_d * along_q - here.torque_q * along_d
    kink = (i_d * i_d + i_q * i_q) / guess.value**2 - 1
    every = np.concatenate((here.over, np.stack((i_d - guess.value, kink, level))))
    first = np.take_along_axis(every, guess.first[None, None, :], 0)[0]
    return np.stack((first, limit))


def _peak(laws: Laws, scan: Scan, i_d: Array, i_q: Array) -> NDArray[np.bool_]:
    """Whether a point keeps every limit, and torque falls to either side of it."""
    good = (i_q > 0) & np.isfinite(i_d)
    amid = (i_d >= scan.i_d[0]) & (i_d <= scan.i_d[2])
    good &= (i_d >= scan.low) & (i_d <= scan.high)
    d, w = laws.d, laws.w
    for side in (-1.0, 1.0):
        here = laws.at(i_d, i_q, side)
        met = here.over >= -MET
        power = d.standby_w + 1.5 * d.resistance * (i_d * i_d + i_q * i_q) + w * here.torque
        # Near half of the open-circuit volts rounding grows to its root.
        good &= d.pack_resistance * power < (0.25 - 1e-6) * d.open_circuit_v**2
        good &= np.all(here.over <= BROKEN, axis=0) & met.any(axis=0)
        good &= np.all(~met | (here.over_q > 0), axis=0)
        good &= here.torque >= scan.torque[1] * (1 - NEAR)
        # A cap without resistance, or a torque current without saliency, may leave i_d free: there
        # the shortest vector is the answer.
        free = ((d.resistance == 0) & met[WATTS]) | ((d.saliency == 0) & met[TORQUE])
        good &= amid | free
        for way, end in ((-1.0, scan.low), (1.0, scan.high)):
            rate = np.where(met, -way * here.over_d / here.over_q, np.inf).min(axis=0)
            gain = way * here.torque_d + here.torque_q * rate
            terms = np.abs(here.torque_d) + here.torque_q * np.maximum(np.abs(rate), 1.0)
            longer = way * i_d + i_q * rate
            other = side * longer < -LOSES * (np.abs(i_d) + np.abs(i_q * rate))
            loses = gain <= np.where(free & ~(longer > 0), -LOSES, LOSES) * terms
            good &= other | loses | (i_d == end)
    return np.asarray(good)
