"""Where force and road load balance: top speed, the speed held on a grade, the grade held."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index, costly_root
from curves.parts.rig import Rig
from curves.point.gains import Gains, gains
from curves.point.limits import sagged_voltage
from curves.setups.batch import Batch
from curves.setups.stack import stack
from curves.steady.envelope import Drawn, base_speed, draw, input_power_at, no_load_speed, words
from curves.steady.gains import rotor_per_road, torque_gains
from curves.steady.runs_on import dragged_force, runs_on
from curves.steady.starting import Rest, at_rest
from curves.units import KMH

_Surplus: TypeAlias = Callable[[Array, Index], Array]

CEILING_WORDS = ("speed cap", "motor speed", "electrical speed")
COASTING = "coasting"
FASTEST = 1e4
"""Road speed, m/s, past which nothing is looked for."""


@dataclass(frozen=True)
class TopSpeed:
    """Top speed of each setup and what it rests on; arrays of shape (setups,), NaN where none.

    Attributes:
        names: Name of each setup.
        speed: m/s; NaN where the bike cannot start.
        limited_by: The words of what holds it there.
        gain: km/h per unit more: ``kmh_per_pack_v``, ``kmh_per_series_cell``, ``kmh_per_pack_a``,
            ``kmh_per_phase_a`` and ``kmh_per_weakening_a`` (in the tune's basis), ``kmh_per_w``,
            ``kmh_per_m2``, ``kmh_per_kg``; NaN where it does not apply or is infinite.
        base_speed: m/s, NaN where voltage never limits.
        no_load_speed: m/s, NaN where none is found.
        drive_off_emf_v: Line-to-line peak back-EMF at top speed with the drive off, V, at the
            setup's magnet temperature.
        drive_off_emf_cold_v: The same for the coldest magnets of the conditions: never less, and
            what people are shown.
        pack_voltage: Under the load at top speed, V.
        rim_force: What the motor gives there, N.
    """

    names: tuple[str, ...]
    speed: Array
    limited_by: tuple[tuple[str, ...], ...]
    gain: dict[str, Array]
    base_speed: Array
    no_load_speed: Array
    drive_off_emf_v: Array
    drive_off_emf_cold_v: Array
    pack_voltage: Array
    rim_force: Array


def top_speed(rigs: Sequence[Rig]) -> TopSpeed:
    """Top speed of every setup under its own conditions.

    Args:
        rigs: The setups, as ``Job.rigs`` gives them.

    >>> from curves import load_job, top_speed
    >>> found = top_speed(load_job().rigs())
    >>> round(float(found.speed[1]) * 3.6, 1), found.limited_by[1]
    (44.8, ('power cap',))
    """
    return batch_top_speed(stack(rigs).batch(), tuple(r.name for r in rigs))


def batch_top_speed(b: Batch, names: tuple[str, ...]) -> TopSpeed:
    """Top speed of a batch; see ``TopSpeed``.

    Args:
        b: The setups.
        names: Their names.
    """
    none = no_load_speed(b)
    found = balance_speed(b, none)
    v = np.nan_to_num(found.speed)[:, None]
    # At the very end of torque rounding may find none left: a hair below, all is defined.
    drawn = draw(b, np.where(found.spent[:, None], v * (1 - 1e-12), v))
    gain = gains(b.drive, drawn.rotor_speed, drawn.point)
    driven = ~np.isnan(drawn.rim_force[:, 0]) & ~found.beyond & ~np.isnan(found.speed)
    emf, cold = (x[:, 0] for x in b.drive_off_emf(drawn.rotor_speed))
    volts = sagged_voltage(b.drive, input_power_at(b, drawn))[:, 0]
    resting = sagged_voltage(b.drive, b.drive.standby_w)[:, 0]
    dead = np.isnan(found.speed)
    volts = np.where(driven, volts, resting)
    return TopSpeed(
        names=names,
        speed=found.speed,
        limited_by=tuple(_words(found, gain, k) for k in range(b.size)),
        gain=_kmh_gains(b, found, drawn, gain),
        base_speed=base_speed(b, none),
        no_load_speed=none,
        drive_off_emf_v=np.where(dead, np.nan, emf),
        drive_off_emf_cold_v=np.where(dead, np.nan, cold),
        pack_voltage=np.where(dead, np.nan, volts),
        rim_force=np.where(driven, drawn.rim_force[:, 0], np.where(dead, np.nan, 0.0)),
    )


@dataclass(frozen=True)
class Balance:
    """A speed of balance, m/s, and what ended it.

    Attributes:
        speed: m/s, shape (setups,).
        ceiling: Held by a cap or ceiling, shape (setups, 3).
        beyond: Faster than the motor drives, which is dragged along: rolling, or ridden.
        ridden: Beyond, with the rider's watts.
        coasting: Beyond, on a road that pushes.
        spent: Held by the motor's own end, its no-load speed, on a road that asks for nothing.
        spare: Rim force at rest above the load at rest, N; it starts where that is above 0.
    """

    speed: Array
    ceiling: NDArray[np.bool_]
    beyond: NDArray[np.bool_]
    ridden: NDArray[np.bool_]
    coasting: NDArray[np.bool_]
    spent: NDArray[np.bool_]
    spare: Array


def balance_speed(b: Batch, no_load: Array) -> Balance:
    """Going up from rest, the first speed at which the rim force falls to the road load.

    Rim force never rises with speed and the road load hardly ever falls, so one bracket holds the
    root; the rider's watts, which set in at 1 m/s, and coast-down coefficients that fall with
    speed are looked at in steps. Past its own end the motor is dragged along, be it by the road or
    by the rider: no watts and hardly any come to the same speed.

    Args:
        b: The setups.
        no_load: Their no-load speed, m/s, NaN for none.

    Returns:
        NaN where force at rest is not above the load at rest, or nothing moves the bike.
    """
    rotor = b.ratio[:, 0] / b.radius[:, 0]
    ends = np.stack(
        (
            b.speed_cap[:, 0],
            b.rotor_limit[:, 0] / rotor,
            b.electrical_limit[:, 0] / (rotor * b.drive.pole_pairs[:, 0]),
        ),
        axis=-1,
    )
    cap = ends.min(axis=-1)

    def surplus(v: Array, rows: Index) -> Array:
        part = b if rows.size == b.size else b.pick(rows)
        force = draw(part, v).rim_force
        # At the no-load speed rounding may find no force left, and there it is none.
        end = np.where(np.isnan(no_load[rows, None]), -dragged_force(part, v), 0.0)
        return np.where(np.isnan(force), end, force) + part.road.rider(v) - part.road.force(v)

    rest = at_rest(b)
    spare = rest.surplus
    # What gives nothing even at rest is driven to no speed; it may roll all the same.
    idle = np.isnan(rest.force)
    high = np.where(idle, 0.0, np.minimum(cap, np.where(np.isnan(no_load), 10.0, no_load)))
    high = _raise(surplus, high, cap, ~idle & np.isnan(no_load))
    low, high, at_low, at_high = _first_bracket(b, surplus, high, spare)
    # A cap is driven up to, and the force just past the no-load speed is none at all.
    scale = np.maximum(np.abs(spare), 1e-300)
    root = costly_root(
        lambda v, rows: surplus(v, rows) / scale[rows, None],
        low,
        high,
        at_low / scale,
        at_high / scale,
    )
    held = at_high >= 0
    speed = np.where(held, high, root)
    driven = np.where(spare > 0, np.where(idle, 0.0, speed), np.nan)
    return _run_on(b, driven, rest, (held | idle, idle | (speed == no_load)), ends)


def _run_on(
    b: Batch, driven: Array, rest: Rest, ended: tuple[NDArray[np.bool_], ...], ends: Array
) -> Balance:
    """The balance of bikes driven to some speed, with what the rider and the road add to it.

    Args:
        b: The setups.
        driven: m/s, 0 where the motor gives nothing even at rest, NaN where the bike cannot start.
        rest: Forces at rest.
        ended: Where a ceiling or the motor's own end holds that speed, not the road; and where the
            motor goes no faster.
        ends: Speeds of the ceilings, m/s, shape (setups, 3).
    """
    held, motor_ends = ended
    cap = ends.min(axis=-1)
    spent = held & motor_ends & (cap > driven * (1 + 1e-12))
    helped = spent & (b.road.rider_w[:, 0] > 0)
    ridden = runs_on(b, np.where(helped, driven, np.nan), rider=True)
    # A ceiling holds a rider too, but not a bike that rolls.
    speed = np.fmax(driven, np.minimum(ridden, cap))
    ceiling = held[:, None] & (ends <= speed[:, None] * (1 + 1e-12))
    carried = (ridden == speed) & ~ceiling.any(axis=1)
    rolled = runs_on(b, speed, rider=False)
    rolls = rolled > speed
    speed = np.where(rolls, rolled, speed)
    dead = np.isnan(rest.force) & (speed == 0)
    return Balance(
        speed=np.where(dead, np.nan, speed),
        ceiling=ceiling & ~rolls[:, None],
        beyond=rolls | carried,
        ridden=carried,
        coasting=rolls | (carried & (b.road.force(speed[:, None])[:, 0] < 0)),
        spent=spent & ~dead & (speed == driven),
        spare=rest.surplus,
    )


def _raise(surplus: _Surplus, high: Array, cap: Array, may: NDArray[np.bool_]) -> Array:
    """Upper end of the bracket where no no-load speed gives one."""
    high = np.copy(high)
    for _ in range(12):
        rows = np.flatnonzero(may & (high < cap) & (high < FASTEST))
        rows = rows[surplus(high[rows, None], rows)[:, 0] >= 0] if rows.size else rows
        if not rows.size:
            break
        high[rows] = np.minimum(2 * high[rows], cap[rows])
    return high


def _first_bracket(
    b: Batch, surplus: _Surplus, high: Array, spare: Array
) -> tuple[Array, Array, Array, Array]:
    """The first stretch from rest over which the surplus changes sign, and its values there."""
    every = np.arange(b.size)
    low, at_low = np.zeros(b.size), spare
    at_high = surplus(high[:, None], every)[:, 0]
    road = b.road
    steps = np.flatnonzero(((road.f1 < 0) | (road.f2 < 0) | (road.rider_w > 0))[:, 0] & (spare > 0))
    if steps.size:
        fractions = np.linspace(0.0, 1.0, 129)
        sets_in = np.minimum([[np.nextafter(1.0, 0.0), 1.0]], high[steps, None])
        grid = np.concatenate((high[steps, None] * fractions, sets_in), axis=1)
        grid = np.sort(grid, axis=1)
        over = surplus(grid, steps)
        falls = over < 0
        some = falls.any(axis=1)
        k = np.maximum(np.argmax(falls, axis=1), 1)
        rows = np.arange(steps.size)
        at = steps[some]
        low, high, at_low = np.copy(low), np.copy(high), np.copy(at_low)
        low[at], high[at] = grid[rows, k - 1][some], grid[rows, k][some]
        at_low[at], at_high[at] = over[rows, k - 1][some], over[rows, k][some]
    return low, high, at_low, at_high


def _words(found: Balance, gain: Gains, k: int) -> tuple[str, ...]:
    if np.isnan(found.speed[k]):
        return ()
    if found.coasting[k]:
        return (COASTING,)
    if found.ceiling[k].any():
        return tuple(w for w, at in zip(CEILING_WORDS, found.ceiling[k], strict=True) if at)
    return tuple(words(np.concatenate((gain.limited[k, 0], [False] * 3))))


def _kmh_gains(b: Batch, found: Balance, drawn: Drawn, gain: Gains) -> dict[str, Array]:
    """The implicit function theorem at the balance: what more of each input adds to its speed."""
    v = np.nan_to_num(found.speed)[:, None]
    ratio = rotor_per_road(b, drawn.gear)
    at_rim = ratio * b.efficiency
    free = ~found.beyond[:, None] & ~np.any(found.ceiling, axis=-1, keepdims=True)
    rising = v >= 1.0
    rider = np.where(rising, -b.road.rider_w / np.maximum(v, 1.0) ** 2, 0.0)
    pull = np.where(free, at_rim * ratio * (gain.speed - b.drive.no_load_drag), 0.0)
    pull += np.where(free | found.ridden[:, None], rider, 0.0)
    tall = b.ratio[:, :1] / b.radius
    dragged = b.drive.no_load_drag * tall * tall / b.efficiency
    pull -= np.where(found.beyond[:, None] & (b.clutch == 0), dragged, 0.0)
    # A motor at its own end goes as far as its torque does, whatever the road.
    asks = ~found.spent[:, None]
    held = np.any(found.ceiling, axis=-1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        per_newton = np.where(held, 0.0, 1 / (asks * b.road.slope(v) - pull)) / KMH
        motor = np.where(free, per_newton * at_rim, 0.0)
        mass = -per_newton * b.road.per_mass() * asks
        area = -per_newton * b.road.per_drag_area(v) * asks
        coast_down = (b.road.f0 != 0) | (b.road.f1 != 0) | (b.road.f2 != 0)
        result = {
            f"kmh_per_{name}": _times(motor, x) for name, x in torque_gains(b, gain).items()
        } | {"kmh_per_m2": np.where(coast_down, np.nan, area), "kmh_per_kg": mass}
        # A cell weighs as well; a source pack has none, and then its mass is none.
        result["kmh_per_series_cell"] += mass * b.cell_kg
    dead = np.isnan(found.speed)
    return {name: np.where(dead, np.nan, x[:, 0] + 0.0) for name, x in result.items()}


def _times(motor: Array, gain: Array) -> Array:
    """Nothing gained where the motor does not decide, whatever the gain there."""
    return np.where(motor == 0, 0.0, motor * gain)
