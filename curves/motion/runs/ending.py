"""The speed a run comes to, and how it moves while charge and temperatures do."""

import numpy as np

from curves.numerics.roots import Array
from curves.setups.batch import Batch
from curves.steady.balance import balance_speed
from curves.steady.envelope import draw, no_load_speed

HAIR = 1e-9
"""Share of a speed by which it is held below where force and road load meet."""
WIDE = np.array([1 - 1e-3, 1.0, 1 + 1e-3])
CLOSE = np.array([1 - 1e-7, 1 + 1e-7])
"""Where the net force is looked at about a speed: what a parabola through the first leaves is far
less than the second, and what a straight line through the second leaves is rounding."""


def end_speed(b: Batch, near: Array | None = None) -> Array:
    """The speed a run comes to in its present state, m/s, a hair below where force meets road.

    Args:
        b: The setups.
        near: Where it was a moment ago, m/s, shape (setups,), NaN for unknown: the balance is
            looked for there first.
    """
    found = np.full(b.size, np.nan) if near is None else _followed(b, near / (1 - HAIR))
    lost = np.flatnonzero(np.isnan(found))
    if lost.size:
        part = b.pick(lost)
        found[lost] = np.nan_to_num(balance_speed(part, no_load_speed(part)).speed)
    return np.asarray(found * (1 - HAIR))


def rotor_ceiling(b: Batch) -> Array:
    """Road speed at the ceiling on rotor or electrical speed in the tallest gear, m/s.

    Args:
        b: The setups.
    """
    rotor = np.minimum(b.rotor_limit, b.electrical_limit / b.drive.pole_pairs)
    return np.asarray((rotor * b.radius / b.ratio[:, :1])[:, 0])


def _followed(b: Batch, near: Array) -> Array:
    """The end about a speed, m/s; NaN where it is not close to it.

    Where a ceiling held it and force is still left there, it holds it on.
    """
    cap = np.minimum(b.speed_cap[:, 0], rotor_ceiling(b))
    held = np.flatnonzero(np.abs(near / cap - 1) < HAIR)
    free = np.flatnonzero(~(np.abs(near / cap - 1) < HAIR) & ~np.isnan(near))
    found = np.full(b.size, np.nan)
    if held.size:
        left = _net(b.pick(held), cap[held], np.ones(1))[1][0]
        found[held] = np.where(left >= 0, cap[held], np.nan)
    if free.size:
        found[free] = _crossed(b.pick(free), near[free])
    return found


def _crossed(b: Batch, near: Array) -> Array:
    """Where force meets road load about a speed, m/s; NaN where they do not cross close to it."""
    with np.errstate(divide="ignore", invalid="ignore"):
        x, f = _net(b, near, WIDE)
        a, c = f[0] / f[1], f[2] / f[1]
        # The inverse parabola: speed as a function of the net force.
        guess = (
            x[0] * c / ((a - 1) * (a - c))
            + x[1] * a * c / ((1 - a) * (1 - c))
            + x[2] * a / ((c - a) * (c - 1))
        )
        guess = np.where(f[1] == 0, x[1], guess)
        x, f = _net(b, np.where((f[0] > 0) & (f[2] < 0), guess, np.nan), CLOSE)
        root = x[0] + (x[1] - x[0]) * (f[0] / (f[0] - f[1]))
        return np.where((f[0] > 0) & (f[1] < 0), root, np.nan)


def _net(b: Batch, speed: Array, about: Array) -> tuple[Array, Array]:
    """Speeds about one, and force less road load there, NaN where the motor does not drive."""
    v = np.where(speed > 0, speed, 0.0)[:, None] * about
    net = draw(b, v).rim_force + b.road.rider(v) - b.road.force(v)
    return v.T, net.T
