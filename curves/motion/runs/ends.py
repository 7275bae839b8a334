"""Where a run ends, and where its force is known to have corners."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.motion.tractive_force import Push
from curves.numerics.roots import Array, Index, bracketed_root
from curves.point.limits import power_limits
from curves.steady.balance import balance_speed
from curves.steady.envelope import base_speed, draw, no_load_speed


class Ends(NamedTuple):
    """Where runs end and where their force has corners; shape (setups,), marks (setups, n).

    ``speed`` is NaN where the bike does not start; ``held`` marks those still pushed at the end,
    by a ceiling on speed.
    """

    speed: Array
    held: NDArray[np.bool_]
    marks: Array


def ends(p: Push) -> Ends:
    """The speed each run tends to, and the speeds at which its force is known to have a corner."""
    b = p.batch
    none = no_load_speed(b)
    balance = balance_speed(b, none)
    top = balance.speed

    def net(v: Array, rows: Index) -> Array:
        part = p if rows.size == b.size else p.pick(rows)
        return part.net(v[:, None])[0][:, 0]

    every = np.arange(b.size)
    at_rest = net(np.zeros(b.size), every)
    starts = (at_rest > 0) & ~np.isnan(top)
    top = np.where(starts, top, 0.0)
    # Just below the top: at it the force may have been switched off.
    near = top * (1 - 1e-9)
    at_top = net(near, every)
    slips = starts & (at_top < 0) & (np.minimum(*p.limits(near[:, None]))[:, 0] < np.inf)
    rows = np.flatnonzero(slips)
    if rows.size:
        zero = np.zeros(rows.size)
        earlier = bracketed_root(
            lambda v, at: net(v, rows[at]), zero, near[rows], at_rest[rows], at_top[rows]
        )
        top[rows] = earlier
    held = balance.ceiling.any(axis=1) & ~slips & starts
    return Ends(np.where(starts, top, np.nan), held, _marks(p, none, top))


def _marks(p: Push, no_load: Array, top: Array) -> Array:
    """Corners known in closed form; others are found by the panels themselves."""
    b = p.batch
    d = b.drive
    still = b._replace(ratio=b.ratio[:, -1:])
    most = draw(still, np.zeros((b.size, 1))).point
    copper = 1.5 * d.resistance * (most.current_d**2 + most.current_q**2)
    with np.errstate(divide="ignore", invalid="ignore"):
        # All the torque of rest until it draws all the power there is, in each gear.
        corner = (power_limits(d).total - d.standby_w - copper) / most.torque
        corner = corner * b.radius / b.ratio
    rotor = b.ratio[:, :1] / b.radius
    columns = (
        np.where(b.road.rider_w > 0, 1.0, 0.0),
        base_speed(b, no_load)[:, None],
        no_load[:, None],
        b.speed_cap,
        b.rotor_limit / rotor,
        b.electrical_limit / (rotor * d.pole_pairs),
        corner,
    )
    marks = np.concatenate([np.broadcast_to(x, (b.size, x.shape[1])) for x in columns], axis=1)
    inside = (marks > 0) & (marks < top[:, None])
    return np.where(inside, marks, 0.0)
