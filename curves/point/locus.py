"""The two ways on which the solver looks for a limit, laid out for speed.

Each keeps what it needs of the drives as rows of one matrix, so that the points still open after a
round of root finding are taken out in one step.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index
from curves.point.limits import SQRT3, Drive

WIDEST_LOAD_ANGLE = 3 * np.pi / 4
"""Past this angle of v from the q axis torque falls for every Lq >= Ld, with or without sag."""


class _Rows:
    """Columns of a matrix, taken anew only when the positions asked for change."""

    def __init__(self, *rows: Array) -> None:
        self._all = np.stack(rows)
        self._at: Index | None = None
        self._now = self._all

    def __call__(self, at: Index) -> Array:
        if at is not self._at:
            self._at = at
            self._now = self._all if at.size == self._all.shape[1] else self._all[:, at]
        return self._now

    @property
    def all(self) -> Array:
        return self._all


class Path:
    """From zero current along most torque per ampere, then up at the weakening limit.

    Torque, copper loss and the voltage demanded all rise along it.

    Args:
        d: Drives without derating, every field of shape (n,).
        w: Rotor speed, rad/s, shape (n,).
    """

    def __init__(self, d: Drive, w: Array) -> None:
        we, up = d.pole_pairs * w, SQRT3 / d.modulation
        half = d.open_circuit_v / 2
        self._salient = bool(np.any(d.saliency > 0))
        self._rows = _Rows(
            d.weakening_a,
            2 * d.saliency,
            d.flux,
            d.resistance * up,
            we * d.ld * up,
            we * d.lq * up,
            we * d.flux * up,
            half,
            half * half - d.pack_resistance * d.standby_w,
            d.pack_resistance * 1.5 * d.resistance,
            d.pack_resistance * w * d.torque_per_weber_ampere,
        )

    def lack(self, current: Array, at: Index) -> Array:
        """Pack volts demanded less pack volts there, for a current vector of this length."""
        most, twice, flux, r, xd, xq, emf, half, rest, copper, per = self._rows(at)
        depth: Array | float = 0.0
        i_q, psi = current, flux
        if self._salient:
            reach = twice * current
            depth = reach * current / (flux + np.sqrt(flux * flux + 2 * reach * reach))
            depth = np.minimum(depth, most)
            i_q = np.sqrt(np.maximum((current - depth) * (current + depth), 0.0))
            psi = flux + 0.5 * twice * depth
        v_d = r * depth + xq * i_q
        v_q = r * i_q + emf - xd * depth
        under = rest - copper * current * current - per * psi * i_q
        volts = half + np.sqrt(np.maximum(under, 0.0))
        lack: Array = np.sqrt(v_d * v_d + v_q * v_q) - volts
        return lack


class _State(NamedTuple):
    valid: NDArray[np.bool_]
    volts: Array
    i_d: Array
    i_q: Array
    turn: tuple[Array, ...]


class Locus:
    """The voltage limit as a curve over the load angle: v = (m V / sqrt 3) (-sin, cos).

    Power into the windings is 1.5 v.i, a quadratic in V once the angle is given, and so is what
    the pack gives at V; their balance is solved in closed form.

    Args:
        d: Drives without derating, every field of shape (n,).
        w: Rotor speed, rad/s, shape (n,).
        limit: The most power that may be drawn, W, shape (n,).
        length: A phase current to measure by, A, shape (n,).
    """

    def __init__(self, d: Drive, w: Array, limit: Array, length: Array) -> None:
        we = d.pole_pairs * w
        det = d.resistance**2 + we * we * d.ld * d.lq
        u = d.modulation / SQRT3
        r, xd, xq = d.resistance / det, we * d.ld / det, we * d.lq / det
        emf = we * d.flux
        self.scale = np.maximum(length, 1e-12)
        per = 1 / self.scale
        most = np.minimum(limit, 1e300)
        watts = 1 / (np.abs(most) + 1e-12)
        # The torque current alone is a limit here only where it costs no torque to weaken.
        box = np.where(d.saliency == 0, d.torque_a, np.inf)
        self._rows = _Rows(
            r,
            xd,
            xq,
            -emf * xq,
            -emf * r,
            u,
            1.5 * d.pack_resistance * u,
            d.open_circuit_v,
            4 * d.pack_resistance * d.standby_w,
            d.flux,
            d.saliency,
            per / d.flux,
            d.weakening_a * per,
            np.minimum(d.vector_a * per, 1e300),
            np.minimum(box * per, 1e300),
            per,
            (most - d.standby_w) * watts,
            1.5 * watts,
        )

    def _state(self, angle: Array, rows: Array) -> _State:
        r, xd, xq, emf_d, emf_q, u, sag, open_v, standby = rows[:9]
        s, c = np.sin(angle), np.cos(angle)
        per_volt_d, per_volt_q = xq * c - r * s, xd * s + r * c
        salient = xd - xq
        bulk = r + salient * s * c
        back = c * emf_q - s * emf_d
        square = 1 + sag * u * bulk
        linear = open_v - sag * back
        root = linear * linear - square * standby
        valid = (root >= 0) & (square > 0)
        root = np.sqrt(np.where(valid, root, 0.0))
        volts = np.where(valid, (linear + root) / (2 * square), 0.0)
        uv = u * volts
        return _State(
            valid,
            volts,
            uv * per_volt_d + emf_d,
            uv * per_volt_q + emf_q,
            (s, c, per_volt_d, per_volt_q, salient, bulk, back, root),
        )

    def currents(self, angle: Array) -> tuple[Array, Array]:
        """i_d and i_q of every drive at a load angle."""
        state = self._state(angle, self._rows.all)
        return state.i_d, state.i_q

    def room(self, angle: Array, at: Index) -> Array:
        """What is left, as a fraction, before the first of: a limit met, or torque at its peak."""
        rows = self._rows(at)
        r, xd, xq, emf_d, emf_q, u, sag, open_v = rows[:8]
        flux, saliency, unit, weakening, vector, box, per, left, watts = rows[9:]
        valid, volts, i_d, i_q, turn = self._state(angle, rows)
        s, c, per_volt_d, per_volt_q, salient, bulk, back, root = turn
        turn_square = sag * u * salient * (c * c - s * s)
        turn_linear = sag * (s * emf_q + c * emf_d)
        gain = (turn_linear - turn_square * volts) * volts
        turn_volts = gain / np.where(root > 0, root, np.inf)
        slope_d = u * (turn_volts * per_volt_d - volts * (r * c + xq * s))
        slope_q = u * (turn_volts * per_volt_q + volts * (xd * c - r * s))
        rise = ((flux - saliency * i_d) * slope_q - saliency * slope_d * i_q) * unit
        uv = u * volts
        least = np.minimum(rise, i_d * per + weakening)
        least = np.minimum(least, vector - np.sqrt(i_d * i_d + i_q * i_q) * per)
        least = np.minimum(least, box - i_q * per)
        least = np.minimum(least, left - watts * uv * (uv * bulk + back))
        least = np.minimum(least, volts / open_v - (0.5 - 1e-12))
        return np.where(valid, least, -1.0)
