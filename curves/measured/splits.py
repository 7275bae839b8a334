"""Splits of a measured run, with an uncertainty from its sample rate and the noise of its speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from curves.measured.launch import STILL, Launch, rise_end, starts_of
from curves.measured.noise import Noise, noise_of, scatter
from curves.measured.timeline import group_means
from curves.motion.runs.results import Targets
from curves.numerics.roots import Array

LOOKS: Final = 100
"""Made-up measurements from which the uncertainty is taken."""
KNOTS_S: Final = 2.0
"""Time over which speed is taken as smooth when its noise is looked for."""
NEAR_S: Final = 0.4
"""Time either side over which a crossing is fitted, or two samples where those are further."""
FASTEST_S: Final = 0.05
"""Time between samples below which neighbours are averaged first."""
LEAST: Final = 0.01
"""m/s; standard deviation of noise below which none is believed."""


@dataclass(frozen=True)
class Splits:
    """Splits of one run; arrays of shape (targets,), NaN where not reached.

    Attributes:
        targets: What was asked.
        start: When it began, s on the log's clock.
        start_u: Its standard uncertainty, s; 0 where a person said it.
        speed_time: s to each speed.
        speed_time_u: Standard uncertainty, s.
        distance_time: s to each distance.
        distance_time_u: Standard uncertainty, s.
        distance_speed: m/s at each distance.
        distance_speed_u: Standard uncertainty, m/s.
        noise: Of the speed.
        interval: Usual time between samples, s.
    """

    targets: Targets
    start: float
    start_u: float
    speed_time: Array
    speed_time_u: Array
    distance_time: Array
    distance_time_u: Array
    distance_speed: Array
    distance_speed_u: Array
    noise: Noise
    interval: float


def measured_splits(
    time: Array,
    speed: Array,
    launch: Launch,
    targets: Targets | None = None,
    *,
    start: float | None = None,
    seed: int = 0,
) -> Splits:
    """Splits of a run from rest.

    The same run is looked at again under noise like its own, drawn many times, start included; the
    spread of what is found is the uncertainty. How far speed is known between samples adds to it.

    Args:
        time: s on the log's clock, rising, shape (samples,).
        speed: m/s, shape (samples,).
        launch: where the run begins and ends.
        targets: speeds and distances to be timed; the usual ones if left out.
        start: where a person says it begins, s; found if left out.
        seed: of the draws.
    """
    asked = targets or Targets()
    inside = (time >= launch.start - 3.0) & (time <= launch.end + 1e-6)
    t, v = _averaged(time[inside], speed[inside])
    step = float(np.median(np.diff(t)))
    smooth, noise = _smooth(t, v, launch.start)
    rng = np.random.default_rng(seed)
    drawn = noise.coloured(t, rng.standard_normal((t.size, LOOKS))).T
    # At rest a receiver is quieter than on the move.
    drawn *= np.clip(smooth / 1.0, 0.1, 1.0)
    looks = np.concatenate((v[None, :], np.maximum(smooth + drawn, 0.0)))
    begin = np.full(len(looks), np.nan if start is None else start)
    if start is None:
        early = t <= rise_end(t, smooth, launch)
        begin = starts_of(t[early], looks[:, early])[0]
        begin[0] = launch.start
    found = _timed(t, looks, begin, asked)
    count = len(asked.speeds), len(asked.distances)
    split = np.split(found, np.cumsum((*count, count[1]))[:-1], axis=1)
    # Between two samples a corner may be missed by a share of what speed changes there.
    missed = _missed(t, smooth, launch.start, split)
    # A target that the noisier half of the looks never reaches has no uncertainty to speak of.
    known = np.isfinite(found[1:])
    middle = np.nansum(found[1:], axis=0) / np.maximum(known.sum(axis=0), 1)
    squares = np.nansum((found[1:] - middle) ** 2, axis=0) / np.maximum(known.sum(axis=0) - 1, 1)
    squares = np.where(known.mean(axis=0) >= 0.5, squares, np.nan)
    spread = np.hypot(np.sqrt(squares), missed)
    uncertain = np.split(spread, np.cumsum((*count, count[1]))[:-1])
    return Splits(
        targets=asked,
        start=float(begin[0]),
        start_u=float(np.std(begin[1:], ddof=1)),
        speed_time=split[0][0],
        speed_time_u=uncertain[0],
        distance_time=split[1][0],
        distance_time_u=uncertain[1],
        distance_speed=split[2][0],
        distance_speed_u=uncertain[2],
        noise=noise,
        interval=step,
    )


def _smooth(time: Array, speed: Array, start: float) -> tuple[Array, Noise]:
    """A smooth run through the samples, and the noise about it."""
    since = np.maximum(time - start, 0.0)
    moving = since > 0
    if moving.sum() < 6:
        return np.where(moving, speed, 0.0), Noise(max(scatter(speed), LEAST))
    length = float(since[-1])
    # Truncated cubes between knots; at the start speed is zero and its slope free.
    most = max(int(moving.sum()) // 3, 2)
    knots = np.linspace(0.0, length, int(np.clip(length / KNOTS_S, 1, most)) + 1)[1:-1]
    columns = [since, since**2, since**3, *(np.maximum(since - k, 0.0) ** 3 for k in knots)][:most]
    design = np.column_stack(columns)[moving]
    design = design / np.linalg.norm(design, axis=0)
    weights = np.linalg.lstsq(design, speed[moving], rcond=None)[0]
    left = speed[moving] - design @ weights
    spread = 1.4826 * float(np.median(np.abs(left)))
    calm = np.clip(left, -4 * spread, 4 * spread) if spread > 0 else left
    fitted = np.zeros_like(speed)
    fitted[moving] = np.maximum(design @ weights, 0.0)
    return fitted, noise_of(time[moving], calm, design, least=LEAST)


def _averaged(time: Array, speed: Array) -> tuple[Array, Array]:
    """Neighbours averaged where samples come faster than ``FASTEST_S``."""
    size = int(FASTEST_S / max(float(np.median(np.diff(time))), 1e-6))
    if size < 2:
        return time, speed
    means = group_means(np.column_stack((time, speed)), np.arange(0, time.size - size + 1, size))
    return means[:, 0], means[:, 1]


def _timed(time: Array, looks: Array, begin: Array, asked: Targets) -> Array:
    """Times to speeds, to distances, and speeds at distances, shape (looks, targets)."""
    distance = _distance(time, looks, begin)
    marks = np.array((*asked.distances, asked.roll_out), dtype=np.float64)
    to_speed = (
        np.stack([_crossing(time, looks, v) for v in asked.speeds], axis=1)
        if (asked.speeds)
        else np.zeros((len(looks), 0))
    )
    to_mark = np.stack([_reached(time, distance, begin, x) for x in marks], axis=1)
    clock = np.where(asked.roll_out > 0, to_mark[:, -1], begin)[:, None]
    at_mark = (
        np.stack([_around(time, looks, t) for t in to_mark[:, :-1].T], axis=1)
        if (len(marks) > 1)
        else np.zeros((len(looks), 0))
    )
    return np.concatenate((to_speed - clock, to_mark[:, :-1] - clock, at_mark), axis=1)


def _distance(time: Array, looks: Array, begin: Array) -> Array:
    """Way from the start, m, shape (looks, samples)."""
    since = np.maximum(time[None, :] - begin[:, None], 0.0)
    moved = np.where(since > 0, looks, 0.0)
    steps = np.diff(since, axis=1)
    way = np.cumsum((moved[:, 1:] + moved[:, :-1]) / 2 * steps, axis=1)
    return np.concatenate((moved[:, :1] / 2 * since[:, :1], way), axis=1)


def _reached(time: Array, distance: Array, begin: Array, mark: float) -> Array:
    """Time at which a way is done, between samples as at even speed change, shape (looks,)."""
    past = distance >= mark
    at = np.argmax(past, axis=1)
    rows = np.arange(len(distance))
    never = ~past[rows, at]
    before = np.maximum(at - 1, 0)
    x0, x1 = distance[rows, before], distance[rows, at]
    t0 = np.where(x0 > 0, time[before], np.maximum(begin, time[before]))
    t1 = time[at]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.clip((mark - x0) / (x1 - x0), 0.0, 1.0)
    # From rest way grows with the square of time.
    share = np.where(x0 > 0, share, np.sqrt(share))
    return np.where(never, np.nan, t0 + share * (t1 - t0))


def _crossing(time: Array, looks: Array, target: float) -> Array:
    """Time at which a speed is first passed, by a line through the samples near, shape (looks,)."""
    step = float(np.median(np.diff(time)))
    width = max(NEAR_S, 1.6 * step)
    half = max(round(NEAR_S / step), 1)
    mean = _moving_mean(looks, half)
    past = mean >= target
    at = np.argmax(past, axis=1)
    out = np.full(len(looks), np.nan)
    for k in np.flatnonzero(past[np.arange(len(looks)), at]):
        middle = time[at[k]]
        for _ in range(2):
            near = np.abs(time - middle) <= width
            if near.sum() < 2:
                break
            t, v = time[near], looks[k, near]
            t0, v0 = t.mean(), v.mean()
            slope = float((t - t0) @ (v - v0) / max(float((t - t0) @ (t - t0)), 1e-12))
            if slope <= 0:
                break
            middle = float(np.clip(t0 + (target - v0) / slope, t[0] - step, t[-1] + step))
        out[k] = middle
    return out


def _around(time: Array, looks: Array, when: Array) -> Array:
    """Speed at a time of each look, by a line through the samples near, shape (looks,)."""
    step = float(np.median(np.diff(time)))
    apart = np.abs(time[None, :] - np.nan_to_num(when)[:, None])
    weight = (apart <= max(NEAR_S, 1.6 * step)).astype(np.float64)
    total = np.maximum(weight.sum(axis=1), 1.0)
    t0 = weight @ time / total
    v0 = np.sum(weight * looks, axis=1) / total
    off = time[None, :] - t0[:, None]
    slope = np.sum(weight * off * looks, axis=1) / np.maximum(
        np.sum(weight * off**2, axis=1), 1e-12
    )
    return np.where(np.isnan(when), np.nan, v0 + slope * (when - t0))


def _moving_mean(looks: Array, half: int) -> Array:
    padded = np.pad(looks, ((0, 0), (half, half)), mode="edge")
    sums = np.cumsum(np.pad(padded, ((0, 0), (1, 0))), axis=1)
    width = 2 * half + 1
    return np.asarray((sums[:, width:] - sums[:, :-width]) / width)


def _missed(time: Array, smooth: Array, start: float, split: list[Array]) -> Array:
    """What coarse sampling may hide, in the unit of each result, shape (results,).

    Between samples speed strays from a straight line by up to an eighth of its bend times the
    interval squared, and the start is a corner that samples straddle.
    """
    step = float(np.median(np.diff(time)))
    slope = np.gradient(smooth, time)
    bend = float(np.quantile(np.abs(np.gradient(slope, time)), 0.9)) * step**2 / 8
    corner = 0.1 * step

    def near(values: Array, of: Array) -> Array:
        at = np.clip(np.searchsorted(time, np.nan_to_num(values) + start), 0, time.size - 1)
        return of[at]

    speed, way, at = (part[0] for part in split)
    return np.concatenate(
        (
            bend / np.maximum(near(speed, slope), 0.05) + corner,
            bend * step / np.maximum(near(way, smooth), STILL) + corner,
            np.full(at.shape, bend),
        )
    )
