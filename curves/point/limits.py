"""What holds an operating point: the drive as arrays, and the laws its limits are made of."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array

SQRT3 = float(np.sqrt(3.0))


class Drive(NamedTuple):
    """Motor, controller, pack and tune as arrays that broadcast: SI, one phase, peak amperes.

    A limit that is not there is infinite (a cut-off that is not there is zero).
    """

    pole_pairs: Array
    flux: Array
    """Peak flux linkage of one phase at the magnets' temperature, Wb."""
    resistance: Array
    """One phase of winding at its temperature, with switch and lead, ohm."""
    ld: Array
    lq: Array
    """Inductance of one phase, H; ld is at most lq."""
    no_load_torque: Array
    no_load_drag: Array
    """No-load torque, N m, and what each rad/s of rotor speed adds, N m s."""
    open_circuit_v: Array
    pack_resistance: Array
    standby_w: Array
    modulation: Array
    """Peak line-to-line volts over pack volts."""
    vector_a: Array
    """Limit on the length of the current vector."""
    torque_a: Array
    """Limit on i_q alone."""
    weakening_a: Array
    """The most of -i_d, most torque per ampere included."""
    mtpa_per_a: Array
    """What one more ampere of the phase limit adds to ``weakening_a``."""
    pack_a: Array
    """Pack current limit, ratings only; half the short-circuit current is always a limit too."""
    cap_w: Array
    cutoff_v: Array
    foldback_start_v: Array
    foldback_end_v: Array
    """Pack volts between which the pack current limit falls to zero; both zero for none."""
    derating_a: Array
    derating: Array
    """Torque factor at phase amperes, both with one more axis at the end; a single 1 for none."""

    @property
    def saliency(self) -> Array:
        """Lq - Ld, H."""
        return self.lq - self.ld

    @property
    def torque_per_weber_ampere(self) -> Array:
        """1.5 p: torque is this times the flux linkage seen by i_q, times i_q."""
        return 1.5 * self.pole_pairs


class PowerLimits(NamedTuple):
    """The limits on power drawn at the controller's input, W, and the pack currents behind them."""

    pack: Array
    cap: Array
    cutoff: Array
    foldback: Array
    pack_a: Array
    foldback_a: Array
    total: Array
    """The least of the four; minus infinity where the pack is at or below its cut-off at rest."""


def power_limits(d: Drive) -> PowerLimits:
    """Turn every limit on the pack's side into one on power, W.

    Pack volts fall and pack amperes rise with power, so each of them is a limit on power alone.

    Args:
        d: The drive, any broadcasting shape.
    """
    v, r = d.open_circuit_v, d.pack_resistance
    with np.errstate(divide="ignore", invalid="ignore"):
        short = np.where(r > 0, v / (2 * r), np.inf)
        pack_a = np.minimum(d.pack_a, short)
        span = d.foldback_start_v - d.foldback_end_v
        above = v - d.foldback_end_v
        # A stiff pack without any rating has no line to fall along, only the end of it.
        folded = np.where(np.isinf(pack_a), np.inf, pack_a * above / (span + r * pack_a))
        folded = np.where(above > 0, folded, np.where(above < 0, -1.0, 0.0))
        loaded = np.where(r > 0, v - r * pack_a, v)
        folds = (d.foldback_start_v > 0) & (loaded < d.foldback_start_v)
        foldback_a = np.where(folds, folded, np.inf)
        pack = np.where(np.isinf(pack_a), np.inf, pack_a * (v - r * pack_a))
        foldback = np.where(np.isinf(foldback_a), np.inf, foldback_a * (v - r * foldback_a))
        cutoff = np.where((d.cutoff_v > v / 2) & (r > 0), d.cutoff_v * (v - d.cutoff_v) / r, np.inf)
    total = np.minimum(np.minimum(pack, d.cap_w), np.minimum(cutoff, foldback))
    total = np.where(d.cutoff_v >= v, -np.inf, total)
    return PowerLimits(pack, d.cap_w, cutoff, foldback, pack_a, foldback_a, total)


def derating_factor(d: Drive, current: Array) -> tuple[Array, Array]:
    """Torque factor at a phase current, and its slope per ampere towards less current.

    Args:
        d: One drive a current, every field of shape (n,), the derating fields of shape (n, k).
        current: Length of the current vector, A, shape (n,).
    """
    x, y = d.derating_a, d.derating
    if x.shape[-1] == 1:
        return np.broadcast_to(y[..., 0], current.shape), np.zeros_like(current)
    points = x.shape[-1]
    after, size = np.zeros(current.shape, dtype=np.intp), current * (1 - 1e-12)
    # A loop over a few points of a table costs a third of a sum along its short axis.
    for point in x.T:
        after += point < size
    k = np.arange(after.size) * points + np.clip(after, 1, points - 1)
    x0, x1 = x.ravel()[k - 1], x.ravel()[k]
    y0, y1 = y.ravel()[k - 1], y.ravel()[k]
    # Drives with fewer points than their neighbours repeat the last one.
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(x1 > x0, (y1 - y0) / (x1 - x0), 0.0)
    factor = np.where(after == 0, y[..., 0], y0 + slope * (np.minimum(current, x1) - x0))
    return factor, np.where((after == 0) | (after == points), 0.0, slope)


def is_derated(d: Drive) -> NDArray[np.bool_]:
    """Where torque is derated at some current."""
    return np.asarray(np.any(d.derating != 1.0, axis=-1))


def electromagnetic_torque(d: Drive, i_d: Array, i_q: Array) -> Array:
    """1.5 p (flux + (Ld - Lq) i_d) i_q, N m, before derating. Currents in peak A."""
    return d.torque_per_weber_ampere * (d.flux - d.saliency * i_d) * i_q


def derated_torque(d: Drive, i_d: Array, i_q: Array) -> Array:
    """Electromagnetic torque times the measured derating, N m. Currents in peak A, shape (n,)."""
    torque = electromagnetic_torque(d, i_d, i_q)
    if d.derating.shape[-1] == 1:
        return torque
    return torque * derating_factor(d, np.hypot(i_d, i_q))[0]


def phase_voltage(d: Drive, speed: Array, i_d: Array, i_q: Array) -> tuple[Array, Array]:
    """Steady-state v_d and v_q, V peak of one phase, at a rotor speed in rad/s."""
    w = d.pole_pairs * speed
    return (
        d.resistance * i_d - w * d.lq * i_q,
        d.resistance * i_q + w * (d.ld * i_d + d.flux),
    )


def input_power(d: Drive, speed: Array, i_d: Array, i_q: Array) -> Array:
    """Power drawn at the controller's input, W: standby, copper, and what becomes torque."""
    copper = 1.5 * d.resistance * (i_d * i_d + i_q * i_q)
    return d.standby_w + copper + speed * derated_torque(d, i_d, i_q)


def current_by_power(copper: Array, drive: Array, budget: Array) -> Array:
    """The current i with ``copper i^2 + drive i = budget``; infinite where nothing is drawn.

    Args:
        copper: Ohm, any broadcasting shape.
        drive: W per A.
        budget: W, zero or more.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        i = 2 * budget / (drive + np.sqrt(drive * drive + 4 * copper * budget))
    return np.where(np.isinf(budget) | np.isnan(i), np.inf, i)


def sagged_voltage(d: Drive, power: Array) -> Array:
    """Pack terminal volts when ``power`` W is drawn; the square root is held at zero past V/2."""
    half = d.open_circuit_v / 2
    return half + np.sqrt(np.maximum(half * half - d.pack_resistance * power, 0.0))


def demanded_voltage(d: Drive, speed: Array, i_d: Array, i_q: Array) -> Array:
    """Pack volts that the phase voltage needs at the modulation allowed, V."""
    return np.hypot(*phase_voltage(d, speed, i_d, i_q)) * (SQRT3 / d.modulation)


def mtpa_current_d(
    flux: Array, saliency: Array, current: Array, by_torque: NDArray[np.bool_] | bool = False
) -> Array:
    """Length of i_d at most torque per ampere, peak A; zero where Ld = Lq.

    With D = Lq - Ld: for a vector of length I ``(sqrt(flux^2 + 8 D^2 I^2) - flux) / 4 D``, for a
    torque current I ``(sqrt(flux^2 + 4 D^2 I^2) - flux) / 2 D``; written without the cancellation.

    Args:
        flux: Flux linkage of one phase, Wb, any broadcasting shape.
        saliency: Lq - Ld of one phase, H.
        current: Length of the vector, or the torque current, peak A.
        by_torque: True where ``current`` is the torque current.

    Source: S. Morimoto et al., IEEE Trans. Ind. Appl. 26(5), 1990.
    """
    reach = 2 * saliency * current
    under = flux * flux + np.where(by_torque, 1.0, 2.0) * reach * reach
    with np.errstate(invalid="ignore"):
        return np.where(reach > 0, reach * current / (flux + np.sqrt(under)), 0.0)


def mtpa_rise(
    flux: Array, saliency: Array, current: Array, by_torque: NDArray[np.bool_] | bool = False
) -> Array:
    """How much ``mtpa_current_d`` grows with its current, A per A; zero where Ld = Lq.

    Derived: ``n D i_d^2 + flux i_d = D I^2`` with n = 2 for a vector and 1 for a torque current,
    hence ``d i_d / d I = 2 D I / (2 n D i_d + flux)``.

    Args:
        flux: Flux linkage of one phase, Wb, any broadcasting shape.
        saliency: Lq - Ld of one phase, H.
        current: Length of the vector, or the torque current, peak A.
        by_torque: True where ``current`` is the torque current.
    """
    aligned = mtpa_current_d(flux, saliency, current, by_torque)
    twice = 2 * saliency
    return twice * current / (np.where(by_torque, 1.0, 2.0) * twice * aligned + flux)
