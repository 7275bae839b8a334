"""The hill: how much of it can be climbed before the winding reaches its limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.motion.heat.march import March, march
from curves.motion.heat.settling import settled
from curves.motion.state import at_state, rows, thermal
from curves.numerics.normal import BAND
from curves.numerics.roots import Array, Index
from curves.parts.heating import HEAT_FIELDS
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.steady.part_load import ride_at
from curves.steady.starting import at_rest
from curves.units import HOUR, PERCENT

LONGEST_S = 12 * HOUR
UNSURE = (
    *(f"motor.{name}" for name in HEAT_FIELDS),
    "motor.resistance_ohm",
    "motor.kv_rpm_per_v",
    "motor.no_load_torque_nm",
    "motor.no_load_torque_nm_per_rad_s",
    "motor.gear_efficiency",
    "controller.resistance_mohm",
    "pack.mass_kg",
    "bike.bike_mass_kg",
    "bike.rider_kg",
    "bike.load_kg",
    "bike.circumference_m",
    "bike.rolling_coefficient",
    "bike.drag_area_m2",
    "bike.final_drive_efficiency",
)
"""Inputs whose tolerance, where a job states one, widens the band of a hill."""
MOST = {"motor.gear_efficiency": 1.0, "bike.final_drive_efficiency": 1.0}


@dataclass(frozen=True)
class HillClimb:
    """A hill climbed at a speed, or as fast as the setup can; arrays of shape (setups,).

    Attributes:
        names: Name of each setup.
        grade: Tangent.
        length: Of the hill, m.
        speed: Asked for, m/s.
        longest: Length of such a hill that is climbed before the winding's limit, m; infinite
            where heat never ends it, 0 where the bike does not get away on it, NaN where the
            motor's heat values or the winding's limit are not given, or it is given up.
        low: The 5 % point of its band, from the inputs that state a tolerance, m; 0 where the
            setup may not start.
        high: The 95 % point, m.
        limit_c: Of the winding, °C; infinite where none is given.
        limit_s: Time to the winding's limit, s; NaN where it is not reached.
        magnet_limit_s: Time to the magnets' limit, s; NaN where it is not reached.
        starts: Whether each starts on it.
        start_speed: Speed held at the foot of the hill, m/s; 0 too where a cap is 0.
        top_winding_c: Winding at the top of the hill, °C; NaN where it is not reached.
        top_case_c: Case and magnets there, °C.
        settled_c: Winding on an endless hill, °C; infinite where nothing settles.
        given_up: Which need more steps than are taken, as they are or with an input moved.
    """

    names: tuple[str, ...]
    grade: float
    length: float
    speed: float
    longest: Array
    low: Array
    high: Array
    limit_c: Array
    limit_s: Array
    magnet_limit_s: Array
    starts: NDArray[np.bool_]
    start_speed: Array
    top_winding_c: Array
    top_case_c: Array
    settled_c: Array
    given_up: NDArray[np.bool_]


def hill(rigs: Sequence[Rig], grade: float, length: float, speed: float) -> HillClimb:
    """Climb a hill with every setup, from the temperatures it states.

    Args:
        rigs: The setups; their own grade is left aside, their state of charge is held.
        grade: Tangent (0.08 is 8 %).
        length: Along the road, m, above 0.
        speed: Road speed to be held, m/s, above 0; where it cannot be held, as fast as it goes.

    Raises:
        ValueError: if length or speed is not above 0.
    """
    if not rigs or not (length > 0 and speed > 0):
        raise ValueError("a hill needs setups, a length and a speed above 0")
    s = stack(rigs).vary({"conditions.grade_percent": np.full(len(rigs), grade / PERCENT)})
    heat, count = thermal(s), len(rigs)
    given = np.flatnonzero(heat.known & np.isfinite(heat.limit_c))
    varied, owner = _unsure(rigs, s, given)
    wanted = np.full(owner.size, speed)
    end = settled(varied, wanted, slower=False)
    cool = np.isfinite(end.winding_c) & ~end.over
    nominal = np.searchsorted(owner, given)
    go = np.unique(np.concatenate((np.flatnonzero(~cool), nominal)))
    marched = march(
        rows(varied, go),
        wanted[go],
        time=LONGEST_S,
        distance=np.full(go.size, length),
        awaited=np.stack((~cool[go], np.zeros_like(cool[go]), cool[go])),
    )
    reach = np.full(owner.size, np.inf)
    reach[go] = _longest(marched)
    reach[cool] = np.inf
    given_up = np.zeros(count, dtype=np.bool_)
    given_up[owner[go[marched.given_up]]] = True
    bands = np.full((3, count), np.nan)
    for setup in given:
        bands[:, setup] = _band(reach[owner == setup])

    def spread(x: Array) -> Array:
        out = np.full(count, np.nan)
        out[given] = x[np.searchsorted(go, nominal)]
        return out

    state = (s.values[f"setup.{name}"] for name in ("state_of_charge", "winding_c", "magnet_c"))
    at_foot = at_state(s, *state)
    start, starts = ride_at(at_foot, np.full(count, speed)).speed, at_rest(at_foot).starts
    reached = ~np.isnan(spread(marched.end_s))
    settles = np.full(count, np.nan)
    settles[given] = settled(rows(s, given), np.full(given.size, speed)).winding_c
    longest, low, high = np.where(starts & (start > 0), np.where(given_up, np.nan, bands), 0.0)
    return HillClimb(
        names=s.names,
        grade=grade,
        length=length,
        speed=speed,
        longest=longest,
        low=low,
        high=high,
        limit_c=heat.limit_c,
        limit_s=spread(marched.limit_s),
        magnet_limit_s=spread(marched.magnet_limit_s),
        starts=starts,
        start_speed=start,
        top_winding_c=np.where(reached, spread(marched.end_winding_c), np.nan),
        top_case_c=np.where(reached, spread(marched.end_case_c), np.nan),
        settled_c=settles,
        given_up=given_up,
    )


def _longest(marched: March) -> Array:
    """Way to the winding's limit, or to where a hot motor gives up, m; infinite for neither."""
    ways = np.fmin(marched.limit_m, marched.stops_m)
    return np.where(np.isnan(ways), np.inf, ways)


def _unsure(rigs: Sequence[Rig], s: Stack, given: Index) -> tuple[Stack, Index]:
    """Each setup as it is, then with each unsure input at its 95 and 5 % points; and whose rows.

    Inputs are lognormal about their values.
    The second is in rising order, and a setup's first row is the setup as it is.
    """
    at: list[int] = []
    factors: dict[str, list[float]] = {field: [] for field in UNSURE}
    for setup in given:
        own = {field: t for field in UNSURE if (t := _tolerance(rigs[setup], field)) and t > 0}
        for field, factor in [
            ("", 1.0),
            *((f, (1 + t) ** x) for f, t in own.items() for x in (BAND, -BAND)),
        ]:
            at.append(int(setup))
            for name, column in factors.items():
                column.append(factor if name == field else 1.0)
    owner = np.array(at, dtype=np.intp)
    picked = rows(s, owner)
    changes = {
        name: np.minimum(picked.values[name] * np.array(column), MOST.get(name, np.inf))
        for name, column in factors.items()
        if owner.size
    }
    return (picked.vary(changes) if changes else picked), owner


def _tolerance(rig: Rig, field: str) -> float:
    part, name = field.split(".")
    return float(getattr(rig, part).tolerance.get(name, 0.0))


def _band(reach: Array) -> tuple[float, float, float]:
    """A length with its band from 5 to 95 %, from it as it is and with each input moved.

    Spread is added up in the part of the winding's budget that a metre uses, 1 / length, which
    stays finite where heat never ends the climb.
    """
    with np.errstate(divide="ignore"):
        used = 1 / reach
    if not np.isfinite(used[0]):
        return 0.0, 0.0, 0.0
    pairs = used[1:].reshape(-1, 2) - used[0]
    more = np.sqrt(np.sum(np.maximum(pairs.max(axis=1, initial=0.0), 0.0) ** 2))
    less = np.sqrt(np.sum(np.minimum(pairs.min(axis=1, initial=0.0), 0.0) ** 2))
    high = used[0] - less
    return (
        float(reach[0]),
        float(1 / (used[0] + more)) if used[0] + more > 0 else np.inf,
        float(1 / high) if high > 0 else np.inf,
    )
