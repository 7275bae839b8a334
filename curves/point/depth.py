"""How deep i_q may go below zero at a given i_d: the first braking limit met on the way."""

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index, bracketed_root
from curves.point.limits import (
    SQRT3,
    Drive,
    derated_torque,
    derating_factor,
    phase_voltage,
)

OUT = 1e-12
"""Share of the pack's volts by which rounding may break a limit."""
SCAN = 9
"""Steps of i_q in which a derated machine's first limit is looked for."""


def depth_in_closed_form(d: Drive, w: Array, least: Array, x: Array) -> tuple[Array, Array]:
    """In closed form but for the voltage, whose root Newton finds from outside."""
    c = Drive(*(y[:, :1] if y.ndim == 2 else y[:, None] for y in d))
    w, least = w[:, None], least[:, None]
    copper = 1.5 * c.resistance
    torque = c.torque_per_weber_ampere * (c.flux - c.saliency * x)
    drive, idle_w = w * torque, c.standby_w + copper * x * x
    spare = idle_w - least
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        plugging = drive / copper
        root = drive * drive - 4 * copper * spare
        charging = 2 * spare / (drive + np.sqrt(np.maximum(root, 0.0)))
        charging = np.where((root < 0) | (spare == np.inf), np.inf, charging)
    most = np.minimum(np.minimum(_longest(c, x), plugging), charging)
    most = np.where(spare < 0, 0.0, most)
    volts = _Volts(c, w, x, copper, drive, idle_w)
    short = np.minimum(np.maximum(-spare, 0.0), 1e300)
    out = np.maximum(volts.idle(), short / (short + 1.0))
    depth = np.where(out > OUT, 0.0, volts.depth(most, out <= OUT))
    return np.where(out > OUT, -out, torque * depth), depth


def _longest(d: Drive, i_d: Array) -> Array:
    """Depth of i_q at which the phase current limits are met, A."""
    with np.errstate(invalid="ignore"):
        across = np.sqrt(np.maximum((d.vector_a - i_d) * (d.vector_a + i_d), 0.0))
    return np.minimum(np.where(np.isinf(d.vector_a), np.inf, across), d.torque_a)


class _Volts:
    """Pack volts demanded less pack volts at hand, along s = -i_q; convex in s.

    Demanded is sqrt(a s^2 + 2 b s + e), and what charges the pack is copper s^2 - drive s + idle.
    """

    def __init__(
        self, d: Drive, w: Array, i_d: Array, copper: Array, drive: Array, idle_w: Array
    ) -> None:
        up, x_q = SQRT3 / d.modulation, d.pole_pairs * w * d.lq
        v_d, v_q = phase_voltage(d, w, i_d, np.zeros_like(i_d))
        square = up * up * (d.resistance**2 + x_q * x_q)
        cross = up * up * (v_d * x_q - v_q * d.resistance)
        rest = up * up * (v_d * v_d + v_q * v_q)
        rows = (square, cross, rest, copper, drive, idle_w, d.open_circuit_v / 2, d.pack_resistance)
        self._rows = np.stack([np.broadcast_to(y, i_d.shape) for y in rows]).reshape(len(rows), -1)
        self._shape = i_d.shape

    def idle(self) -> Array:
        """How far i_q = 0 is out, as a share of the pack's volts."""
        over, _ = self._excess(np.zeros(self._rows.shape[1]), self._rows)
        return np.asarray((over / (2 * self._rows[6])).reshape(self._shape))

    def depth(self, most: Array, possible: NDArray[np.bool_]) -> Array:
        """The depth, up to ``most``, at which the volts are met.

        Newton on a convex function from outside: no step passes the root.
        """
        s = most.ravel().copy()
        at = np.flatnonzero(possible)
        at = at[self._excess(s[at], self._rows[:, at])[0] > 0]
        rows = self._rows[:, at]
        for _ in range(60):
            if not at.size:
                break
            over, slope = self._excess(s[at], rows)
            step = over / np.maximum(slope, 1e-300)
            go = step > 4e-16 * s[at]
            s[at] = np.maximum(s[at] - np.where(go, step, 0.0), 0.0)
            at, rows = at[go], rows[:, go]
        return s.reshape(self._shape)

    @staticmethod
    def _excess(s: Array, rows: Array) -> tuple[Array, Array]:
        """Volts over, and their slope per ampere."""
        a, b, e, copper, drive, idle_w, half, ohm = rows
        demand = np.sqrt(np.maximum((a * s + 2 * b) * s + e, 0.0))
        power = (copper * s - drive) * s + idle_w
        root = np.sqrt(np.maximum(half * half - ohm * power, 0.0))
        tiny = 1e-300
        with np.errstate(over="ignore"):
            rise = ohm * (2 * copper * s - drive) / np.maximum(2 * root, tiny)
            slope = (a * s + b) / np.maximum(demand, tiny) + rise
        return demand - half - root, slope


def depth_in_steps(d: Drive, w: Array, least: Array, x: Array) -> tuple[Array, Array]:
    """With measured saturation: the first limit met is looked for in steps, then closed in on."""
    n, k = x.shape
    owner, i_d = np.repeat(np.arange(n), k), x.ravel()
    c = Drive(*(y[owner] for y in d))
    ws = w[owner]
    slope = ws * c.torque_per_weber_ampere * (c.flux - c.saliency * i_d)
    v_d, v_q = phase_voltage(c, ws, i_d, np.zeros_like(i_d))
    lowest = np.maximum(least, -1e300)[owner]
    rows = np.stack(
        (
            *(i_d, slope, v_d, v_q, c.resistance, c.pole_pairs * ws * c.lq, SQRT3 / c.modulation),
            *(c.open_circuit_v / 2, c.pack_resistance, c.standby_w, np.minimum(lowest, 1e300)),
        )
    )

    def room(s: Array, at: Index) -> Array:
        """The least of what is left of volts, charging power and freedom from plugging."""
        whole = at.size == owner.size
        i, t, u_d, u_q, r, x_q, up, half, ohm, idle, low = rows if whole else rows[:, at]
        table = c if whole else c._replace(derating_a=c.derating_a[at], derating=c.derating[at])
        driven = t * derating_factor(table, np.hypot(i, s))[0]
        power = idle + 1.5 * r * (i * i + s * s) - driven * s
        volts = half + np.sqrt(np.maximum(half * half - ohm * power, 0.0))
        volts = volts - up * np.hypot(u_d + x_q * s, u_q - r * s)
        free = (driven - 1.5 * r * s) / np.maximum(t, 1e-300)
        watts = power - low
        spare = np.minimum(volts / (2 * half), free)
        return np.asarray(np.minimum(spare, watts / (np.abs(watts) + 1.0)))

    every = np.arange(n * k)
    out = -room(np.zeros(n * k), every)
    longest = _longest(c, i_d)
    grid = longest[:, None] * np.linspace(0.0, 1.0, SCAN + 1)
    rooms = np.stack([room(g, every) for g in grid.T], axis=1)
    broken = rooms < 0
    first = np.argmax(broken, axis=1)
    before = np.maximum(first - 1, 0)
    low_s, high_s = grid[every, before], grid[every, first]
    depth = bracketed_root(room, low_s, high_s, rooms[every, before], rooms[every, first])
    depth = np.where(broken.any(axis=1), depth, longest)
    depth = np.where(out > OUT, 0.0, depth)
    value = np.where(out > OUT, -out, -derated_torque(c, i_d, -depth))
    return value.reshape(n, k), depth.reshape(n, k)
