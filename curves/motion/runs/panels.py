"""A run cut into panels: time, distance and speed as Legendre series, integrated and looked up.

Within a panel a quantity is a polynomial through Gauss-Legendre nodes, so its integral is exact
for that polynomial and a crossing is one root of a polynomial. A panel whose last coefficients
have not died away holds a corner of the force and is halved until they have.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.polynomial import legendre

from curves.numerics.roots import Array, Index, bracketed_root

NODES = 9
U, WEIGHTS = legendre.leggauss(NODES)
_VALUES_AT = legendre.legvander(U, NODES - 1)
TO_SERIES: Array = np.asarray(np.linalg.inv(_VALUES_AT).T, dtype=np.float64)
"""Values at the nodes, on the last axis, times this: coefficients."""
_PRIMITIVE: Array = np.array([legendre.legint(np.eye(NODES)[k], lbnd=-1) for k in range(NODES)])
"""Coefficients times this: coefficients of the integral from -1, one more of them."""
_PRIMITIVE_AT = legendre.legvander(U, NODES)

HALVINGS = 16
ROUNDING = 1e-12
"""By which a run may fall short of a target that it ends at, such as a speed cap: its end is a sum
of coefficients, each of them rounded, and otherwise so by another processor."""


class Panels(NamedTuple):
    """Time, s, distance, m, and speed, m/s, along runs, in the order ridden.

    Each is a series over its panel's own [-1, 1], of shape (setups, panels, coefficients); NaN
    where there is no run.
    """

    time: Array
    distance: Array
    speed: Array

    def end(self) -> tuple[Array, Array, Array]:
        """Time, distance and speed at the end of the last panel, each of shape (setups,)."""
        time, distance, speed = (x[:, -1].sum(axis=-1) for x in self)
        return time, distance, speed

    def join(self, *others: Panels) -> Panels:
        """This and what follows it, as one."""
        return Panels(*(np.concatenate(x, axis=1) for x in zip(self, *others, strict=True)))

    def reach(self, by: Array, target: Array) -> tuple[Array, Array, Array]:
        """Time, distance and speed where a quantity first reaches targets.

        Args:
            by: One of the three series.
            target: Same unit, shape (setups, targets).

        Returns:
            Arrays of shape (setups, targets); NaN where it does not within the panels.
        """
        ends = by.sum(-1)
        start = by[:, 0] @ (-1.0) ** np.arange(by.shape[-1])
        past = ends[:, None, :] >= target[..., None] * (1 - ROUNDING)
        reached = past.any(axis=2)
        rows = np.nonzero(reached)[0]
        columns = np.argmax(past, axis=2)[reached]
        want: Array = target[reached]
        series: Array = by[rows, columns]

        def short(u: Array, at: Index) -> Array:
            missing: Array = evaluate(series[at], u) - want[at]
            return missing

        low, high = np.full(rows.size, -1.0), np.full(rows.size, 1.0)
        every = np.arange(rows.size)
        f_low = np.minimum(short(low, every), 0.0)
        u = bracketed_root(short, low, high, f_low, np.maximum(short(high, every), 0.0))
        u = np.where(want <= start[rows], -1.0, u)
        found = []
        for quantity in self:
            out = np.full(target.shape, np.nan)
            out[reached] = evaluate(quantity[rows, columns], u)
            found.append(out)
        return found[0], found[1], found[2]


def evaluate(series: Array, u: Array) -> Array:
    """Legendre series, one a row of shape (n, coefficients), at one point each, shape (n,)."""
    value: Array = np.asarray(legendre.legval(u, np.moveaxis(series, -1, 0), tensor=False))
    return value


def primitive(values: Array) -> Array:
    """Series of the integral from the panel's start of what has these values at the nodes."""
    series: Array = values @ TO_SERIES @ _PRIMITIVE
    return series


def widened(values: Array) -> Array:
    """Series through values at the nodes, with a zero so that it is as long as an integral's."""
    series = values @ TO_SERIES
    return np.concatenate((series, np.zeros((*series.shape[:-1], 1))), axis=-1)


def still(time: Array, distance: Array, speed: Array, panels: int = 1) -> Panels:
    """Panels of no length, at a point a setup; every argument of shape (setups,)."""

    def level(x: Array) -> Array:
        series = np.zeros((x.size, panels, NODES + 1))
        series[..., 0] = x[:, None]
        return series

    return Panels(level(time), level(distance), level(speed))


def by_time(
    force: Callable[[Array, Array], Array],
    mass: Array,
    start: tuple[Array, Array, Array],
    duration: Array,
    panels: int,
) -> Panels:
    """A stretch whose force is known over time and speed, by collocation in time.

    Args:
        force: Net force, N, at times, s, and speeds, m/s, shape (setups, nodes). It must be smooth.
        mass: kg, shape (setups, 1).
        start: Time, distance and speed at its beginning, each of shape (setups,).
        duration: s, shape (setups,).
        panels: How many panels to cut it into.
    """
    half = (duration / (2 * panels))[:, None]
    time, distance, speed = start
    parts = []
    for _ in range(panels):
        t = time[:, None] + half * (U + 1)
        v = np.repeat(speed[:, None], NODES, axis=1)
        gained = np.zeros((speed.size, NODES + 1))
        for _ in range(40):
            gained = half * primitive(force(t, v) / mass)
            new = speed[:, None] + gained @ _PRIMITIVE_AT.T
            change = np.nanmax(np.abs(new - v), initial=0.0)
            v = new
            if change <= 1e-14:
                break
        gained[:, 0] += speed
        ridden = half * primitive(v)
        ridden[:, 0] += distance
        clock = np.zeros_like(gained)
        clock[:, 0], clock[:, 1] = time + half[:, 0], half[:, 0]
        parts.append(Panels(clock[:, None], ridden[:, None], gained[:, None]))
        time, distance, speed = parts[-1].end()
    return parts[0].join(*parts[1:])


class Sampled(NamedTuple):
    """What a panel's nodes give: d time, d distance over the panel's coordinate, and speed."""

    time: Array
    distance: Array
    speed: Array


def by_coordinate(
    sample: Callable[[Array, Index], Sampled],
    marks: Array,
    start: tuple[Array, Array, Array],
    tolerance: float,
) -> Panels:
    """A stretch along a coordinate, from corner to corner, halved where it is not yet smooth.

    Args:
        sample: Called with coordinates of shape (k, nodes) and the setup of each row, shape (k,).
        marks: The coordinate at the start, at corners and at the end, shape (setups, marks),
            in any order.
        start: Time, distance and speed at the beginning, each of shape (setups,).
        tolerance: Time, s, by which a single panel may be wrong.
    """
    marks = np.sort(marks, axis=1)
    count = marks.shape[0]
    row = np.repeat(np.arange(count), marks.shape[1] - 1)
    low, high = marks[:, :-1].ravel(), marks[:, 1:].ravel()
    kept: list[tuple[Index, Array, Array, Sampled]] = []
    for level in range(HALVINGS + 1):
        wide = high > low
        row, low, high = row[wide], low[wide], high[wide]
        if not row.size:
            break
        half = (high - low)[:, None] / 2
        got = sample(low[:, None] + half * (U + 1), row)
        got = Sampled(got.time * half, got.distance * half, got.speed)
        tail = np.abs(got.time @ TO_SERIES)[:, -2:].sum(axis=1)
        rough = ~(tail <= tolerance) & (level < HALVINGS)
        good = ~rough
        kept.append((row[good], low[good], high[good], Sampled(*(x[good] for x in got))))
        row, low, high = row[rough], low[rough], high[rough]
        middle = (low + high) / 2
        row = np.concatenate((row, row))
        low, high = np.concatenate((low, middle)), np.concatenate((middle, high))
    return _assemble(count, kept, start)


def _assemble(
    count: int, kept: list[tuple[Index, Array, Array, Sampled]], start: tuple[Array, Array, Array]
) -> Panels:
    """Panels of every setup in order, padded with panels of no length at the end."""
    row = np.concatenate([k[0] for k in kept]) if kept else np.zeros(0, dtype=np.intp)
    low = np.concatenate([k[1] for k in kept]) if kept else np.zeros(0)
    order = np.lexsort((low, row))
    row = row[order]
    place = np.arange(row.size) - np.searchsorted(row, row)
    most = int(place.max(initial=0)) + 1
    shape = (count, most, NODES + 1)
    time, distance = np.zeros(shape), np.zeros(shape)
    speed = np.full((count, most, NODES + 1), np.nan)
    if kept:
        got = Sampled(*(np.concatenate(x)[order] for x in zip(*(k[3] for k in kept), strict=True)))
        time[row, place] = primitive(got.time)
        distance[row, place] = primitive(got.distance)
        speed[row, place] = widened(got.speed)
    for series, begin in ((time, start[0]), (distance, start[1])):
        gained = np.cumsum(series.sum(-1), axis=1)
        series[:, 0, 0] += begin
        series[:, 1:, 0] += begin[:, None] + gained[:, :-1]
    used = np.bincount(row, minlength=count)
    last = np.maximum(used - 1, 0)
    final = np.where(used > 0, speed[np.arange(count), last].sum(-1), start[2])
    empty = np.arange(most) >= used[:, None]
    speed[empty] = 0.0
    speed[..., 0] = np.where(empty, final[:, None], speed[..., 0])
    return Panels(time, distance, speed)
