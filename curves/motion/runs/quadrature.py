"""Timed runs of whole batches by quadrature in speed: the state stays as it is at the start.

``t = ∫ m dv / F`` and ``x = ∫ m v dv / F`` have a pole at the speed the run tends to, so they are
taken over s with ``v = v_end (1 − e^{−s})``, which makes both integrands smooth to the end.
Time enters only where force depends on it: while the controller lets the torque rise, and while
gears change.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from curves.motion.runs.ends import Ends, ends
from curves.motion.runs.panels import Panels, Sampled, by_coordinate, by_time, still
from curves.motion.runs.results import Runs, Targets, sentences, trap_speed, with_trap
from curves.motion.tractive_force import Push, push
from curves.numerics.roots import Array, Index, bracketed_root
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack

TOLERANCE_S = 2e-7
"""Time by which a single panel may be wrong."""
LAST = 12.0
"""Coordinate at which the approach to the final speed is taken as exponential (6e-6 of it)."""
FIRST_CUT = np.array((0.1, 0.3, 0.6, 1.0, 1.5, 2.2, 3.2, 4.6, 6.5, 9.0))
TIE = 1e-9
"""A taller gear takes over when it pulls this nearly as hard, relative."""
NEVER_S = 1e6


def timed_runs(
    rigs: Sequence[Rig] | Stack, targets: Targets | None = None, *, shift_s: float = 0.0
) -> Runs:
    """Splits of a run from rest for every setup, its state of charge and temperatures held.

    A torque that rises slowly is taken to have risen before the first change of gear.

    Args:
        rigs: The setups, or a stack of them.
        targets: Speeds and distances to be timed; the usual ones if left out.
        shift_s: Time without drive at each change of gear, s.

    Returns:
        NaN and a sentence where a target is never reached.

    Raises:
        ValueError: if ``shift_s`` is negative.
    """
    return frozen_runs(rigs, targets, shift_s=shift_s).runs


class Frozen(NamedTuple):
    """Runs in a held state, where they end, and the time constant of their approach to it, s."""

    runs: Runs
    end: Ends
    constant: Array


def frozen_runs(
    rigs: Sequence[Rig] | Stack, targets: Targets | None = None, *, shift_s: float = 0.0
) -> Frozen:
    """As ``timed_runs``, with what an integration in time needs to know beforehand."""
    if shift_s < 0:
        raise ValueError("the shift time must be at least 0 s")
    asked = targets or Targets()
    stacked = rigs if isinstance(rigs, Stack) else stack(rigs)
    p = push(stacked)
    end = ends(p)
    rise = stacked.of("controller.torque_rise_s")
    panels, tail = ride(p, end, rise, shift_s)
    return Frozen(_splits(stacked.names, asked, p, end, panels, tail), end, tail)


def ride(p: Push, end: Ends, rise: Array, shift_s: float) -> tuple[Panels, Array]:
    """The whole run as panels, and the time constant of what follows them, s.

    Args:
        p: The setups.
        end: The speeds they tend to.
        rise: Time in which torque rises from 0 to full, s, shape (setups,).
        shift_s: Time without drive at each change of gear, s.
    """
    # One that cannot start tends to nothing, one that is capped at rest goes nowhere either.
    alive = end.speed > 0
    safe = end._replace(speed=np.where(alive, end.speed, 1.0))
    zero = np.zeros(p.batch.size)
    run = still(zero, zero, zero)
    if np.any(rise > 0):
        run = run.join(*_rising(p, rise))
    if shift_s > 0 and p.batch.ratio.shape[1] > 1:
        run = _through_gears(p, safe, run, shift_s)
    else:
        run = run.join(_drive(p, safe, run.end(), safe.speed))
    last = run.end()[2]
    net, mass = p.net(last[:, None])
    with np.errstate(divide="ignore", invalid="ignore"):
        constant = mass[:, 0] * (safe.speed - last) / net[:, 0]
    constant = np.where(end.held | (net[:, 0] <= 0), 0.0, constant)
    run = Panels(*(np.where(alive[:, None, None], x, np.nan) for x in run))
    return run, constant


def _drive(p: Push, end: Ends, start: tuple[Array, Array, Array], until: Array) -> Panels:
    """Under full drive from a speed to another, which may be the one the run tends to."""
    top, held = end.speed, end.held

    def coordinate(v: Array) -> Array:
        with np.errstate(divide="ignore", invalid="ignore"):
            # A run that cannot start tends to no speed.
            share = np.minimum(v / top[:, None], 1.0)
            return np.where(held[:, None], share, np.minimum(-np.log1p(-share), LAST))

    first, final = coordinate(start[2][:, None]), coordinate(until[:, None])
    cut = np.where(held[:, None], 1 - np.exp(-FIRST_CUT), FIRST_CUT)
    marks = np.concatenate((first, cut, coordinate(end.marks), final), axis=1)
    marks = np.clip(marks, first, np.maximum(first, final))

    def sample(s: Array, rows: Index) -> Sampled:
        ceiling = held[rows, None]
        full = top[rows, None]
        left = np.where(ceiling, full, full * np.exp(-s))
        v = np.where(ceiling, full * s, -full * np.expm1(-s))
        net, mass = p.pick(rows).net(v)
        with np.errstate(divide="ignore"):
            time = np.where(net > 0, mass * left / net, NEVER_S)
        return Sampled(time, time * v, v)

    return by_coordinate(sample, marks, start, TOLERANCE_S)


def _rising(p: Push, rise: Array) -> list[Panels]:
    """While the torque rises from nothing, until grip or the envelope takes over."""
    road = p.batch.road
    zero = np.zeros(p.batch.size)
    full = np.nan_to_num(p.motor(zero[:, None])[1].rim_force)
    span = np.where(rise > 0, rise, 1.0)[:, None]
    rises = (rise > 0) & (full[:, 0] > 0)
    rate = full / span
    mass = p.inertia[:, -1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        wait = np.where(rises, np.maximum(road.force(zero[:, None])[:, 0], 0.0) / rate[:, 0], 0.0)
    wait = np.minimum(wait, rise)

    def crossing(trial: Panels, begin: Array) -> Array:
        """When the rising force has met what grip and envelope allow."""

        def lack(t: Array, rows: Index) -> Array:
            part = Panels(*(x[rows] for x in trial))
            v = part.reach(part.time, t[:, None])[2]
            return (p.pick(rows).motor(np.nan_to_num(v))[0] - rate[rows] * t[:, None])[:, 0]

        rows = np.flatnonzero(rises)
        low, high = begin[rows], trial.end()[0][rows]
        f = [lack(t, rows) for t in (low, high)]
        found = np.copy(begin)
        found[rows] = bracketed_root(
            lambda t, at: lack(t, rows[at]),
            low,
            high,
            np.maximum(f[0], 0.0),
            np.minimum(f[1], 0.0),
        )
        return found

    def without(t: Array, v: Array) -> Array:
        return rate * t - road.force(v)

    def along(t: Array, v: Array) -> Array:
        return without(t, v) + road.rider_w / np.maximum(v, 1.0)

    stands = by_time(lambda t, _: np.zeros_like(t), mass, (zero, zero, zero), wait, 1)
    begin = stands.end()
    trial = by_time(without, mass, begin, np.where(rises, rise - wait, 0.0), 4)
    met = crossing(trial, begin[0])
    one = trial.reach(trial.time * 0 + trial.speed, np.ones((zero.size, 1)))[0][:, 0]
    helped = rises & (road.rider_w[:, 0] > 0) & (one < met)
    alone = by_time(without, mass, begin, np.where(helped, one, met) - begin[0], 4)
    if not helped.any():
        return [stands, alone]
    begin = alone.end()
    trial = by_time(along, mass, begin, np.where(helped, rise - begin[0], 0.0), 4)
    met = np.where(helped, crossing(trial, begin[0]), begin[0])
    return [stands, alone, by_time(along, mass, begin, met - begin[0], 4)]


def _through_gears(p: Push, end: Ends, run: Panels, shift_s: float) -> Panels:
    """Gear after gear, each left for the next taller one where that pulls as hard."""
    gears = p.batch.ratio.shape[1]
    for gear in range(gears - 1, 0, -1):
        here, taller = p.in_gear(gear), p.in_gear(gear - 1)
        until = shift_speed(here, taller, end.speed)
        start = run.end()
        run = run.join(_drive(here, end, start, np.maximum(until, start[2])))
        real = (p.batch.ratio[:, gear] > p.batch.ratio[:, gear - 1]) & (until < end.speed)
        run = run.join(
            by_time(
                lambda _, v: p.coasting(v),
                p.rolling,
                run.end(),
                np.where(real, shift_s, 0.0),
                1,
            )
        )
    return run.join(_drive(p.in_gear(0), end, run.end(), end.speed))


def shift_speed(here: Push, taller: Push, top: Array) -> Array:
    """Speed at which the taller gear pulls as hard as this one, m/s; ``top`` where it never does.

    Args:
        here: The setups in this gear.
        taller: The setups in the next taller gear.
        top: Where the run ends, m/s, shape (setups,).
    """

    def ahead(v: Array, rows: Index) -> Array:
        ours, theirs = (
            np.nan_to_num(x.pick(rows).motor(v[:, None])[1].rim_force)[:, 0] for x in (here, taller)
        )
        # Past its own no-load speed a gear is left, whatever the next one gives.
        return np.where(ours > 0, ours * (1 - TIE) - theirs, -1.0)

    every, zero = np.arange(top.size), np.zeros(top.size)
    at_rest, at_top = ahead(zero, every), ahead(top, every)
    root = bracketed_root(ahead, zero, top, at_rest, at_top)
    return np.where(at_rest <= 0, 0.0, np.where(at_top > 0, top, root))


def _splits(
    names: tuple[str, ...],
    asked: Targets,
    p: Push,
    end: Ends,
    panels: Panels,
    constant: Array,
) -> Runs:
    count = p.batch.size
    speeds = np.broadcast_to(np.array(asked.speeds, dtype=np.float64), (count, len(asked.speeds)))
    marks = np.concatenate((with_trap(asked.distances), [asked.roll_out]))
    distances = np.broadcast_to(marks, (count, marks.size))
    t_v, x_v, _ = panels.reach(panels.speed, speeds)
    t_x, _, v_x = panels.reach(panels.distance, distances)
    last_t, last_x, last_v = (x[:, None] for x in panels.end())
    top, q = end.speed[:, None], constant[:, None]
    gap = top - last_v
    with np.errstate(divide="ignore", invalid="ignore"):
        late = q * np.log(gap / (top - speeds))
        beyond = np.isnan(t_v) & (speeds < top) & (q > 0)
        t_v = np.where(beyond, last_t + late, t_v)
        # The speed still missing dies away as e^(-t/q); so does the way it costs.
        after = last_x + top * late - q * (speeds - last_v)
        x_v = np.where(beyond, after, x_v)
        more = np.maximum(distances - last_x, 0.0) / top
        for _ in range(4):
            lost = np.where(q > 0, gap * q * -np.expm1(-more / q), 0.0)
            more = (np.maximum(distances - last_x, 0.0) + lost) / top
        far = np.isnan(t_x) & (distances > last_x)
        t_x = np.where(far, last_t + more, t_x)
        v_x = np.where(far, top - np.where(q > 0, gap * np.exp(-more / q), 0.0), v_x)
    t_x = np.where(t_x < NEVER_S, t_x, np.nan)
    t_v = np.where(t_v < NEVER_S, t_v, np.nan)
    clock, t_x = t_x[:, -1:], t_x[:, :-1]
    d = len(asked.distances)
    at_rest = p.net(np.zeros((count, 1)))[0][:, 0]
    times = np.concatenate((t_v, t_x[:, :d]), axis=1)
    return Runs(
        names=names,
        targets=asked,
        speed_time=np.maximum(t_v - clock, 0.0),
        speed_distance=np.where(np.isnan(t_v), np.nan, x_v),
        distance_time=np.maximum(t_x[:, :d] - clock, 0.0),
        distance_speed=np.where(np.isnan(t_x), np.nan, v_x[:, :-1])[:, :d],
        trap_speed=trap_speed(t_x),
        end_speed=end.speed,
        notes=tuple(sentences(asked, end.speed[k], at_rest[k], times[k]) for k in range(count)),
    )
