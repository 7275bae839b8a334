"""The smallest torque: what the motor can brake with under every limit at once.

At each i_d the torque current is followed from zero downward to the first limit met. How deep it
gets may rise and fall more than once over i_d (more weakening burns power that the pack may not
take, and costs voltage and current), so i_d is searched over its whole range.
"""

from collections.abc import Callable
from typing import Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array
from curves.point.blocks import in_blocks, pick
from curves.point.depth import depth_in_closed_form, depth_in_steps
from curves.point.limits import (
    Drive,
    demanded_voltage,
    derated_torque,
    input_power,
    is_derated,
    power_limits,
    sagged_voltage,
)
from curves.point.search import zero_torque_interval

BRAKING_LIMITS = (
    "phase current",
    "field weakening current",
    "voltage",
    "regen pack current",
    "full-charge voltage",
    "plugging",
)
"""What can hold a braking point, in the order of ``Brake.met``."""

FIRST_NODES, NODES, PASSES = 65, 9, 11
"""Nodes over i_d at first, then around the two best; each later pass narrows fourfold, to 1e-8 of
the range in the end (torque is flat or has a kink there: 1e-8 of it at most)."""
SHARE = 512
"""Points searched at once, so that their nodes stay in the processor's cache."""
MET = 1e-6
_Score: TypeAlias = Callable[[Drive, Array, Array, Array], tuple[Array, Array]]


class Brake(NamedTuple):
    """The strongest braking point; NaN where no current at zero torque keeps every limit.

    Attributes:
        torque: Electromagnetic torque, N m, zero or less, no-load torque not included.
        current_d: Peak A.
        current_q: Peak A, zero or less.
        met: Which of ``BRAKING_LIMITS`` hold it; one more axis at the end.
    """

    torque: Array
    current_d: Array
    current_q: Array
    met: NDArray[np.bool_]


def braking_point(d: Drive, speed: Array, regen_a: Array, full_charge_v: Array) -> Brake:
    """The smallest electromagnetic torque at each rotor speed.

    Args:
        d: The drive; its fields broadcast against ``speed``.
        speed: Rotor speed, rad/s, zero or more.
        regen_a: Pack current allowed while charging, A; zero for no electrical braking.
        full_charge_v: Pack volts that charging may not exceed; infinite for no limit.

    Returns:
        Torque, currents and limits in the broadcast shape. Limits on drawing power do not hold
        here, save that a pack at or below its cut-off gives NaN. Not modelled: braking beyond the
        speed that weakening can hold, where the diodes conduct.

    Source: the braking envelope of the model page (phase current, voltage at the pack volts that
    charging raises, pack current, full-charge voltage, and no power drawn beyond what i_d costs).
    """
    arrays = (np.asarray(x, dtype=np.float64) for x in (speed, regen_a, full_charge_v))
    return Brake(*in_blocks(_kernel, d, *arrays))


def charging_limits(d: Drive, regen_a: Array, full_charge_v: Array) -> tuple[Array, Array]:
    """The least power at the controller's input, W, negative when charging.

    Args:
        d: The drive.
        regen_a: Pack current allowed while charging, A.
        full_charge_v: Pack volts that charging may not exceed; infinite for no limit.

    Returns:
        The limits by pack current and by pack voltage.
    """
    v, r = d.open_circuit_v, d.pack_resistance
    by_current = -regen_a * (v + r * regen_a)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        by_volts = full_charge_v * (v - full_charge_v) / r
    # Without resistance the volts do not rise; full is full all the same.
    stiff = np.where(v > full_charge_v, np.inf, np.where(v == full_charge_v, 0.0, -np.inf))
    by_volts = np.where(r > 0, by_volts, stiff)
    return by_current, np.where(np.isinf(full_charge_v), -np.inf, by_volts)


def _kernel(d: Drive, w: Array, regen_a: Array, full_v: Array) -> tuple[NDArray[Any], ...]:
    by_current, by_volts = charging_limits(d, regen_a, full_v)
    least = np.maximum(by_current, by_volts)
    i_d, i_q = np.zeros_like(w), np.zeros_like(w)
    met = np.zeros((w.size, len(BRAKING_LIMITS)), dtype=np.bool_)
    met[:, 3] = regen_a <= 0
    met[:, 5] = (regen_a > 0) & (w == 0)
    asked = (regen_a > 0) & (w > 0)
    derated = is_derated(d)
    for flag, kind in ((False, depth_in_closed_form), (True, depth_in_steps)):
        rows = np.flatnonzero(asked & (derated == flag))
        for start in range(0, rows.size, SHARE):
            at = rows[start : start + SHARE]
            search = _Search(pick(d, at), w[at], least[at], kind)
            i_d[at], i_q[at] = search.deepest()
            met[at] = _met(search, by_current[at], by_volts[at], i_d[at], i_q[at])
    dead = power_limits(d).total < d.standby_w
    i_d[dead], i_q[dead] = np.nan, np.nan
    met[np.isnan(i_d)] = False
    return derated_torque(d, i_d, i_q), i_d, i_q, met


class _Search:
    """Search over i_d for the deepest torque of some points."""

    def __init__(self, d: Drive, w: Array, least: Array, kind: _Score) -> None:
        self.d, self.w, self.least, self.kind = d, w, least, kind

    def score(self, x: Array) -> tuple[Array, Array]:
        """Braking torque and depth of i_q, both zero or more, at i_d of shape (n, k).

        Where zero torque breaks a limit: how far it is out, below zero.
        """
        return self.kind(self.d, self.w, self.least, x)

    def deepest(self) -> tuple[Array, Array]:
        """i_d and i_q of most braking torque, shape (n,); NaN where there is none."""
        d = self.d
        with np.errstate(divide="ignore"):
            most = np.where(
                d.pack_resistance > 0, d.open_circuit_v**2 / (4 * d.pack_resistance), np.inf
            )
        low, high, possible = zero_torque_interval(d, self.w, most)
        x = high[:, None] + (low - high)[:, None] * np.linspace(0.0, 1.0, FIRST_NODES)
        value, depth = self.score(x)
        best = _two_peaks(value)
        x = np.repeat(x[:, None, :], 2, axis=1)
        for _ in range(PASSES):
            a, b = (_take(x, np.clip(best + side, 0, x.shape[2] - 1)) for side in (-1, 1))
            x = a[..., None] + (b - a)[..., None] * np.linspace(0.0, 1.0, NODES)
            value, depth = (y.reshape(x.shape) for y in self.score(x.reshape(len(x), -1)))
            best = _best(value, np.hypot(x, depth))
        x, value, depth = (_take(y, best) for y in (x, value, depth))
        one = _best(value, np.hypot(x, depth))
        i_d, top, depth = (_take(y, one) for y in (x, value, depth))
        none = ~possible | (top < 0)
        return np.where(none, np.nan, i_d), np.where(none, np.nan, -depth)


def _take(x: Array, at: NDArray[np.intp]) -> Array:
    return np.take_along_axis(x, at[..., None], -1)[..., 0]


def _best(value: Array, length: Array) -> NDArray[np.intp]:
    """Position of the largest value on the last axis; among equals, of the shortest current."""
    top = np.max(value, axis=-1, keepdims=True)
    equal = value >= top - 1e-13 * np.abs(top)
    return np.asarray(np.argmin(np.where(equal, length, np.inf), axis=-1))


def _two_peaks(value: Array) -> NDArray[np.intp]:
    """Positions of the two highest local maxima along the last axis, the highest first."""
    before = np.concatenate((np.full((len(value), 1), -np.inf), value[:, :-1]), axis=1)
    after = np.concatenate((value[:, 1:], np.full((len(value), 1), -np.inf)), axis=1)
    peaks = np.where((value >= before) & (value >= after), value, -np.inf)
    # Of equal neighbours the first: the least weakening.
    peaks[:, 1:][value[:, 1:] == value[:, :-1]] = -np.inf
    first = np.argmax(peaks, axis=1)
    peaks[np.arange(len(value)), first] = -np.inf
    second = np.where(np.isinf(peaks).all(axis=1), first, np.argmax(peaks, axis=1))
    return np.stack((first, second), axis=1)


def _met(
    s: _Search, by_current: Array, by_volts: Array, i_d: Array, i_q: Array
) -> NDArray[np.bool_]:
    """Which limits hold each point; see ``BRAKING_LIMITS``."""
    d, w = s.d, s.w
    alive = ~np.isnan(i_d)
    i_d, i_q = np.where(alive, i_d, 0.0), np.where(alive, i_q, 0.0)
    power = input_power(d, w, i_d, i_q)
    torque = -derated_torque(d, i_d, i_q)
    spare = sagged_voltage(d, power) - demanded_voltage(d, w, i_d, i_q)
    with np.errstate(invalid="ignore"):
        long = (np.hypot(i_d, i_q) >= d.vector_a * (1 - MET)) | (-i_q >= d.torque_a * (1 - MET))
        watts = MET * np.maximum(w * torque, np.abs(power))
        regen, full = power - by_current <= watts, power - by_volts <= watts
    idle = d.standby_w + 1.5 * d.resistance * i_d * i_d
    # A little more weakening than the limit: does it brake harder?
    phase = np.minimum(d.vector_a, d.torque_a)
    at_limit = -i_d >= d.weakening_a - MET * phase
    more = s.score(-(d.weakening_a + 1e-4 * phase)[:, None])[0][:, 0]
    met = np.stack(
        (
            long,
            at_limit & (more > torque * (1 + 1e-9)),
            spare <= MET * d.open_circuit_v,
            regen,
            full,
            idle - power <= watts,
        ),
        axis=1,
    )
    return met & alive[:, None]
