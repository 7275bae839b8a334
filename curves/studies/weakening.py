"""How much field weakening? Its current against top speed, loss and ratings; what it replaces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from curves.errors import JobError, Problem
from curves.motion.heat import settled
from curves.numerics.roots import Array
from curves.parts.labels import NEARLY_EMPTY
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.steady.balance import TopSpeed, batch_top_speed
from curves.steady.envelope import draw
from curves.studies.common import Running, pick, running, settled_winding
from curves.studies.ratings import HEAT_RATINGS, RATINGS, Rating, rating_of
from curves.studies.settings import (
    SETTING,
    WORTH_KMH,
    Answers,
    fastest_setting,
    find_answers,
    least_amps,
)
from curves.studies.tolerances import tolerance_of
from curves.units import KMH

UNLIMITED = 1e6
"""A setting, A, that no phase current reaches."""
NINE_IN_TEN = 1.6449
"""Standard deviations within which nine in ten lie."""


@dataclass(frozen=True)
class WeakeningSweep:
    """A setup over settings of its field-weakening current. SI, arrays (settings,).

    Attributes:
        name: The setup.
        basis: ``peak`` or ``rms``, of every setting.
        charge: State of charge, 0 to 1; NaN for a source pack, which has none.
        amps: Settings, A in the basis.
        top: Top speed at each, with what limits it and its gains.
        more: Top speed that one more ampere adds at each, tried, m/s; NaN where it cannot start.
        running: Losses, efficiency and consumption at that top speed.
        at_speed: Road speeds of ``rim_force``, m/s, shape (speeds,).
        rim_force: N, shape (settings, speeds); NaN where not driven.
        winding_c: Settled winding temperature at top speed, °C; infinite where nothing settles,
            NaN where not known.
        characteristic_a: Flux over d inductance, A in the basis; infinite without inductance.
        worth: What an extra ampere should buy, m/s.
        ratings: What the ratings are and what each setting asks of them.
        answers: The three settings.
        spread: Lowest and highest of each answer where inductance is only typical, else None;
            then the answers are not to be given as one figure.
    """

    name: str
    basis: str
    charge: float
    amps: Array
    top: TopSpeed
    more: Array
    running: Running
    at_speed: Array
    rim_force: Array
    winding_c: Array
    characteristic_a: float
    worth: float
    ratings: tuple[Rating, ...]
    answers: Answers
    spread: dict[str, tuple[float, float]] | None


def weakening_sweep(
    rig: Rig,
    amps: Sequence[float],
    *,
    worth_kmh: float = WORTH_KMH,
    speeds_kmh: Sequence[float] = (),
    heat: bool = True,
) -> WeakeningSweep:
    """A setup with other field-weakening currents, and the three answers within their range.

    Args:
        rig: The setup.
        amps: Settings in the tune's basis, A, rising, 0 or more.
        worth_kmh: What an extra ampere should buy, km/h.
        speeds_kmh: Road speeds at which rim force is wanted.
        heat: Whether settled temperatures are wanted, which take longer.

    Raises:
        JobError: if the settings do not rise from 0 or more.
    """
    setting = np.asarray(amps, dtype=np.float64)
    if not setting.size or np.any(np.diff(setting) <= 0) or setting[0] < 0:
        raise JobError([Problem("amps", f"{list(amps)}", "must rise, from 0 or more")])
    base = stack([rig])
    every = base.vary({SETTING: setting})
    batch = every.batch()
    top = batch_top_speed(batch, every.names)
    speeds = np.asarray(speeds_kmh, dtype=np.float64) * KMH
    warm = settled(every, np.nan_to_num(top.speed)) if heat else None
    names = RATINGS if warm is None else (*RATINGS, *HEAT_RATINGS)
    ratings = tuple(rating_of(name, every, top, warm) for name in names)
    # Only a temperature passed at the end of the range is worth following to where it is met.
    hot = any(r.asked[-1] > r.rated[-1] for r in ratings if r.name in HEAT_RATINGS)
    answers = find_answers(base, float(setting[0]), float(setting[-1]), worth_kmh, heat=hot)
    basis = float(batch.basis[0, 0])
    with np.errstate(divide="ignore"):
        characteristic = batch.drive.flux[0, 0] / batch.drive.ld[0, 0] / basis
    return WeakeningSweep(
        name=rig.name,
        basis=rig.tune.current_basis,
        charge=rig.state_of_charge if rig.pack.from_cells else np.nan,
        amps=setting,
        top=top,
        more=np.nan_to_num(top_speeds(rig, setting + 1.0)) - top.speed,
        running=running(batch, top.speed),
        at_speed=speeds,
        rim_force=draw(batch, speeds).rim_force if speeds.size else np.empty((setting.size, 0)),
        winding_c=np.full(setting.size, np.nan) if warm is None else warm.winding_c,
        characteristic_a=float(characteristic),
        worth=worth_kmh * KMH,
        ratings=ratings,
        answers=answers,
        spread=_spread(rig, base, setting, worth_kmh, heat),
    )


def at_other_charge(rig: Rig) -> Rig | None:
    """A setup nearly empty, or full if nearly empty is what it is; None for a source pack.

    Args:
        rig: The setup.
    """
    if not rig.pack.from_cells:
        return None
    return replace(rig, state_of_charge=NEARLY_EMPTY if rig.state_of_charge > NEARLY_EMPTY else 1.0)


def top_speeds(rig: Rig, amps: Sequence[float] | Array) -> Array:
    """Top speed with some settings of field weakening, m/s, shape (settings,); NaN: cannot start.

    Args:
        rig: The setup.
        amps: Settings in the tune's basis, A.
    """
    every = stack([rig]).vary({SETTING: np.asarray(amps, dtype=np.float64)})
    return batch_top_speed(every.batch(), every.names).speed


@dataclass(frozen=True)
class Trade:
    """Field weakening instead of volts: what it takes to be as fast as another setup.

    Arrays (setups,). The costs compare both at the same speed: the other setup's top speed, or
    this one's if even the most weakening falls short of it.

    Attributes:
        amps: Field-weakening current, A in the tune's basis; NaN where the bike cannot start.
        speed: Road speed up to which they match, m/s.
        target: Top speed of the other setup, m/s.
        loss: Loss from the controller's input to the rim more than the other's, W.
        wh_per_km: Consumption more than the other's, Wh/km.
        winding_k: Settled winding temperature above the other's, K; NaN where not known.
    """

    amps: Array
    speed: Array
    target: Array
    loss: Array
    wh_per_km: Array
    winding_k: Array


def trade(setups: Stack, others: Stack) -> Trade:
    """How much field weakening makes each setup as fast as another one, and at what price.

    Args:
        setups: The setups, their own field weakening left aside.
        others: As many setups to match, as they are.
    """
    size = len(setups.names)
    target = batch_top_speed(others.batch(), others.names).speed
    low, high = np.zeros(size), np.full(size, UNLIMITED)
    amps = least_amps(setups, np.nan_to_num(target), low, high)
    short = np.flatnonzero(np.isnan(amps) & ~np.isnan(target))
    speed = target.copy()
    if short.size:
        part = pick(setups, short)
        amps[short] = fastest_setting(part, low[short], high[short])[0]
        most = part.vary({SETTING: high[short]})
        speed[short] = batch_top_speed(most.batch(), part.names).speed
    speed = np.where(np.isnan(amps) | np.isnan(target), np.nan, speed)
    with_it = setups.vary({SETTING: np.nan_to_num(amps)})
    mine, theirs = running(with_it.batch(), speed), running(others.batch(), speed)
    with np.errstate(invalid="ignore"):
        # Infinite on both sides is no difference that could be told.
        winding_k = settled_winding(with_it, speed) - settled_winding(others, speed)
    return Trade(
        amps=np.where(np.isnan(speed), np.nan, amps),
        speed=speed,
        target=target,
        loss=mine.loss - theirs.loss,
        wh_per_km=mine.wh_per_km - theirs.wh_per_km,
        winding_k=winding_k,
    )


def _spread(
    rig: Rig, base: Stack, setting: Array, worth_kmh: float, heat: bool
) -> dict[str, tuple[float, float]] | None:
    """Lowest and highest answers over the inductance's tolerance, where it is only typical."""
    fields = ("inductance_d_uh", "inductance_q_uh")
    if not any(rig.motor.source_kind(field) == "typical" for field in fields):
        return None
    share = max(tolerance_of(rig.motor, "motor", field) for field in fields)
    factor = 1 + NINE_IN_TEN * share * np.linspace(-1.0, 1.0, 5)
    changes = {f"motor.{field}": base.values[f"motor.{field}"] * factor for field in fields}
    low, high = float(setting[0]), float(setting[-1])
    every = base.vary(changes)
    answers = find_answers(every, low, high, worth_kmh, heat=heat and _too_hot(every, high))
    told = {
        "fastest": answers.fastest,
        "diminishing": answers.diminishing,
        "within": answers.within,
    }
    known = {name: x[~np.isnan(x)] for name, x in told.items()}
    return {
        name: (float(x.min()), float(x.max())) if x.size else (np.nan, np.nan)
        for name, x in known.items()
    }


def _too_hot(setups: Stack, amps: float) -> bool:
    """Whether any of some setups settles above a limit with a setting."""
    some = setups.vary({SETTING: np.full(len(setups.names), amps)})
    top = batch_top_speed(some.batch(), some.names)
    warm = settled(some, np.nan_to_num(top.speed))
    ratings = [rating_of(name, some, top, warm) for name in HEAT_RATINGS]
    return any(np.any(r.asked > r.rated) for r in ratings)
