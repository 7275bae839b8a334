"""Three settings of field weakening: the fastest, the last that pays, the last within ratings.

Field weakening is a budget: a controller uses no more of it than raises torque. So top speed never
falls with a higher setting; past the fastest one nothing more is drawn. Each setting is found as a
root or as the current that is used, not off a grid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index
from curves.setups.stack import Stack
from curves.steady.balance import CEILING_WORDS, COASTING, TopSpeed, batch_top_speed
from curves.steady.envelope import draw
from curves.studies.common import pick, study_root, surplus
from curves.studies.ratings import HEAT_RATINGS, RATINGS, rating_of

SETTING = "tune.field_weakening_a"
WORTH_KMH = 0.1
"""What an extra ampere should buy, km/h, unless the user says otherwise."""
GRID = 32
"""Settings at which the gain is looked at before its crossing is found exactly."""
FAR = 1e4
"""Stands for a margin without end, in the unit of any rating."""
NEAR = 1e-4
"""Share of the way by which "just below" a setting is below it."""


@dataclass(frozen=True)
class Answers:
    """The three settings, A in the tune's basis, arrays of shape (setups,).

    Attributes:
        fastest: Lowest setting with the highest top speed.
        diminishing: From here on an extra ampere buys less than was asked; NaN if it still buys
            as much at the end of the range.
        within: Highest setting within every rating; NaN where none is.
        rising: Whether top speed still rises at the end of the range.
        by: What limits top speed once weakening no longer does, words a setup.
        stopped_by: The rating that ends ``within``, empty where the range does.
    """

    fastest: Array
    diminishing: Array
    within: Array
    rising: NDArray[np.bool_]
    by: tuple[tuple[str, ...], ...]
    stopped_by: tuple[str, ...]


def find_answers(
    base: Stack, low: float, high: float, worth_kmh: float = WORTH_KMH, *, heat: bool = False
) -> Answers:
    """The three settings of each setup between two settings.

    Args:
        base: The setups, shape (setups,).
        low: Lowest setting, A in the tune's basis.
        high: Highest setting.
        worth_kmh: What an extra ampere should buy, km/h.
        heat: Whether temperatures that settle at top speed count among the ratings.
    """
    size = len(base.names)
    lows, highs = np.full(size, low), np.full(size, high)
    fastest, end = fastest_setting(base, lows, highs)
    rising = np.array(["field weakening current" in w for w in end.limited_by], dtype=np.bool_)
    within, stopped_by = _within(base, lows, highs, heat)
    return Answers(
        fastest=fastest,
        diminishing=_diminishing(base, lows, fastest, rising, worth_kmh),
        within=within,
        rising=rising,
        by=end.limited_by,
        stopped_by=stopped_by,
    )


def least_amps(base: Stack, speed: Array, low: Array, high: Array) -> Array:
    """Least field-weakening current with which each setup holds a speed, A in the tune's basis.

    Args:
        base: The setups.
        speed: Road speed, m/s, shape (setups,).
        low: Lowest setting looked at, shape (setups,).
        high: Highest setting looked at, shape (setups,).

    Returns:
        NaN where even the highest does not hold it.
    """

    def spare(amps: Array, rows: Index) -> Array:
        some = pick(base, rows).vary({SETTING: amps})
        return surplus(some.batch(), speed[rows])

    every = np.arange(speed.size)
    at_low, at_high = spare(low, every), spare(high, every)
    root = study_root(spare, low, high, at_low, at_high)
    return np.where(at_low >= 0, low, np.where(at_high >= 0, root, np.nan))


def _top(base: Stack, amps: Array) -> TopSpeed:
    return batch_top_speed(base.vary({SETTING: amps}).batch(), base.names)


def fastest_setting(base: Stack, low: Array, high: Array) -> tuple[Array, TopSpeed]:
    """Lowest setting with the highest top speed, and that top speed.

    It is what of the highest setting is used at top speed, or the least that reaches a ceiling.

    Args:
        base: The setups.
        low: Lowest setting, A in the tune's basis, shape (setups,).
        high: Highest setting, shape (setups,).
    """
    end = _top(base, high)
    b = base.vary({SETTING: high}).batch()
    point = draw(b, np.nan_to_num(end.speed)[:, None]).point
    # Most torque per ampere comes first; the setting counts from there.
    aligned = b.drive.weakening_a[:, 0] - high * b.basis[:, 0]
    used = (-point.current_d[:, 0] - aligned) / b.basis[:, 0]
    at_ceiling = [any(word in CEILING_WORDS for word in words) for words in end.limited_by]
    rows = np.flatnonzero(at_ceiling)
    if rows.size:
        least = least_amps(pick(base, rows), end.speed[rows], low[rows], high[rows])
        # The highest holds its own top speed, whatever its last digit says.
        used[rows] = np.where(np.isnan(least), high[rows], least)
    # A drive that coasts, or has no state at all there, uses no setting.
    idle = np.isnan(used) | [COASTING in words for words in end.limited_by]
    used = np.where(idle, low, used)
    return np.where(np.isnan(end.speed), np.nan, np.clip(used, low, high)), end


def _diminishing(
    base: Stack, low: Array, fastest: Array, rising: NDArray[np.bool_], worth_kmh: float
) -> Array:
    """Setting from which on an extra ampere buys less than ``worth_kmh``."""
    # At the fastest setting the gain drops to nothing at a corner: looked at from just below.
    share = np.append(np.linspace(0.0, 1.0, GRID), 1 - NEAR)
    share.sort()
    top = np.nan_to_num(fastest)
    grid = low[:, None] + (top - low)[:, None] * share
    rows = np.repeat(np.arange(low.size), share.size)

    def over(amps: Array, at: Index) -> Array:
        gain = _top(pick(base, at), amps).gain["kmh_per_weakening_a"]
        return np.nan_to_num(gain, nan=-worth_kmh) - worth_kmh

    values = over(grid.ravel(), rows).reshape(grid.shape)
    buys = values >= 0
    end = share.size - 1
    last = end - np.argmax(buys[:, ::-1], axis=1)
    answer = np.where(~buys.any(axis=1), low, np.where((last == end) & rising, np.nan, top))
    inside = np.flatnonzero(buys.any(axis=1) & (last < end - 1))
    k = last[inside]
    if inside.size:
        answer[inside] = study_root(
            lambda amps, at: over(amps, inside[at]),
            grid[inside, k],
            grid[inside, k + 1],
            values[inside, k],
            values[inside, k + 1],
        )
    answer[np.isnan(fastest)] = np.nan
    return answer


def _within(base: Stack, low: Array, high: Array, heat: bool) -> tuple[Array, tuple[str, ...]]:
    """Highest setting within every rating, and the rating that ends it."""
    best, by = high.copy(), [""] * low.size
    for name in (*RATINGS, *(HEAT_RATINGS if heat else ())):
        value = _kept(base, name, low, high)
        for k in np.flatnonzero(~(value >= best) & ~np.isnan(best)):
            best[k], by[k] = value[k], name
    return best, tuple(by)


def _kept(base: Stack, name: str, low: Array, high: Array) -> Array:
    """Highest setting within one rating; NaN where even the lowest oversteps it."""

    def spare(amps: Array, at: Index) -> Array:
        every = pick(base, at).vary({SETTING: amps})
        rating = rating_of(name, every, batch_top_speed(every.batch(), every.names))
        # What is not rated is never overstepped; what never settles is as far over as can be.
        left = np.nan_to_num(rating.rated - rating.asked, nan=FAR, posinf=FAR, neginf=-FAR)
        return np.clip(left, -FAR, FAR)

    value, every = high.copy(), np.arange(high.size)
    end = spare(high, every)
    over = np.flatnonzero(end < 0)
    if over.size:
        start = spare(low[over], over)
        root = study_root(
            lambda amps, at: spare(amps, over[at]), low[over], high[over], start, end[over]
        )
        value[over] = np.where(start < 0, np.nan, root)
    return value
