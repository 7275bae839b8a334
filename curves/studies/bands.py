"""How sure? Samples of every unsure input, and the bands, odds and shares that follow."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.motion.runs import Targets, timed_runs
from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.batch import Batch
from curves.setups.stack import Stack, stack
from curves.steady.balance import balance_speed
from curves.steady.envelope import draw, no_load_speed
from curves.studies.common import Progress, quietly
from curves.studies.samples import Input, Method, inputs_of, normal_samples, sampled

QUANTILES = (0.05, 0.5, 0.95)
COUNT = 512
"""Samples unless told otherwise: a 5 % point then moves by about a tenth of the band."""
PIECE = 64
"""Samples of every setup worked out at a time."""
SPEEDS = 2048
"""Top speeds worked out at a time."""
NEVER = 1e300
"""Stands for a time that never comes while samples are put in order."""


@dataclass(frozen=True)
class Bands:
    """What samples of the inputs make of the results. SI; quantiles 5, 50 and 95 % where three.

    Attributes:
        names: The setups.
        inputs: What was unsure.
        count: How many samples.
        at_speed: Road speeds of ``rim_force``, m/s, shape (speeds,).
        rim_force: N, shape (setups, 3, speeds); 0 where it does not drive.
        top_speed: m/s, shape (setups, 3); 0 where it cannot start.
        targets: Splits that were timed.
        speed_time: s, shape (setups, 3, speeds timed); NaN where that sample never gets there.
        distance_time: s, shape (setups, 3, distances timed).
        faster: How often the setup of the row has more top speed than that of the column, shape
            (setups, setups); two rows of a pair fall short of 1 by how often they tie.
        quicker: How often it needs less time, shape (setups, setups, splits), speeds first.
    """

    names: tuple[str, ...]
    inputs: tuple[Input, ...]
    count: int
    at_speed: Array
    rim_force: Array
    top_speed: Array
    targets: Targets | None
    speed_time: Array
    distance_time: Array
    faster: Array
    quicker: Array


def bands(
    rigs: Sequence[Rig],
    *,
    speeds: Sequence[float] = (),
    targets: Targets | None = None,
    count: int = COUNT,
    method: Method = "latin hypercube",
    seed: int = 0,
    progress: Progress = quietly,
) -> Bands:
    """Bands of the results of setups whose inputs carry tolerances.

    Each unsure input is lognormal about its value with the relative standard uncertainty of the
    job, so that its median is the value and nothing turns negative. Setups that share a part share
    its samples, so pairs are compared like with like.

    Args:
        rigs: The setups.
        speeds: Road speeds at which rim force is wanted, m/s.
        targets: Splits to time; none if left out.
        count: Samples; rounded up to a power of 2 for Sobol' points.
        method: How the samples are spread. Sobol' points narrow a band's ends down more, but
            depend on which setups are asked for together.
        seed: Of the scrambling; the same seed gives the same bands.
        progress: Told samples done and how many there are; what it raises ends the study.
    """
    inputs, setups = inputs_of(rigs), stack(rigs)
    normal = normal_samples([x.key for x in inputs], count, method=method, seed=seed)
    at_speed = np.asarray(speeds, dtype=np.float64)
    n = normal.shape[0]
    pieces = []
    for start in range(0, n, PIECE):
        progress(start, n)
        some = sampled(setups, inputs, normal[start : start + PIECE])
        pieces.append(_results(some, len(rigs), at_speed, targets))
    top, force, times = (np.concatenate(found) for found in zip(*pieces, strict=True))
    reached = 0 if targets is None else len(targets.speeds)
    quantiles = np.quantile(times, QUANTILES, axis=0).swapaxes(0, 1)
    quantiles[quantiles > NEVER / 1e6] = np.nan
    return Bands(
        names=tuple(rig.name for rig in rigs),
        inputs=inputs,
        count=n,
        at_speed=at_speed,
        rim_force=np.quantile(force, QUANTILES, axis=0).swapaxes(0, 1),
        top_speed=np.quantile(top, QUANTILES, axis=0).T,
        targets=targets,
        speed_time=quantiles[..., :reached],
        distance_time=quantiles[..., reached:],
        faster=np.mean(_beats(top[:, :, None], top[:, None, :]), axis=0),
        quicker=np.mean(_beats(-times[:, :, None], -times[:, None, :]), axis=0),
    )


def _results(
    samples: Stack, size: int, at_speed: Array, targets: Targets | None
) -> tuple[Array, Array, Array]:
    """Top speed, rim force and times, samples along the first axis and setups along the second."""
    batch = samples.batch()
    top = _top_speed(batch).reshape(-1, size)
    force = np.zeros((*top.shape, at_speed.size))
    if at_speed.size:
        force = np.nan_to_num(draw(batch, at_speed).rim_force).reshape(force.shape)
    if targets is None:
        return top, force, np.empty((*top.shape, 0))
    runs = timed_runs(samples, targets)
    times = np.concatenate((runs.speed_time, runs.distance_time), axis=1)
    return top, force, np.where(np.isnan(times), NEVER, times).reshape(*top.shape, -1)


def _beats(mine: Array, other: Array) -> NDArray[np.bool_]:
    """Better by more than the solver's own accuracy."""
    return mine - other > 1e-9 * np.abs(other)


def _top_speed(b: Batch) -> Array:
    """Top speed, m/s, shape (setups,); 0 where the bike cannot start."""
    return np.nan_to_num(balance_speed(b, no_load_speed(b)).speed)


@dataclass(frozen=True)
class Shares:
    """Where the spread of top speed comes from.

    Attributes:
        names: Inputs, ``part.field``, the largest share first.
        share: First-order Sobol' index of each, shape (inputs,): the part of the variance that
            would vanish if that input were known exactly.
        together: The rest, that only inputs together make.
    """

    names: tuple[str, ...]
    share: Array
    together: float


def shares(rig: Rig, *, count: int = COUNT, seed: int = 0, progress: Progress = quietly) -> Shares:
    """First-order indices of the top speed of one setup.

    Args:
        rig: The setup.
        count: Samples of each of the ``inputs + 2`` sets, rounded up to a power of 2.
        seed: Of the scrambling.
        progress: Told setups done and how many there are; what it raises ends the study.
    """
    from scipy.special import ndtri

    inputs, base = inputs_of([rig]), stack([rig])

    def speed(points: Array) -> Array:
        normal, found = ndtri(points), []
        for start in range(0, len(normal), SPEEDS):
            progress(start, len(normal))
            some = sampled(base, inputs, normal[start : start + SPEEDS])
            found.append(_top_speed(some.batch()))
        return np.concatenate(found)

    index = first_order(speed, len(inputs), count=count, seed=seed)
    order = np.argsort(-index, kind="stable")
    names = tuple(inputs[k].name for k in order)
    return Shares(names, index[order], float(max(1 - index.sum(), 0.0)) if inputs else 0.0)


def first_order(
    f: Callable[[Array], Array], dimensions: int, *, count: int = COUNT, seed: int = 0
) -> Array:
    """First-order Sobol' indices of a function of the unit cube, shape (dimensions,).

    Args:
        f: Called with points, shape (n, dimensions); returns values, shape (n,).
        dimensions: How many inputs.
        count: Samples of each set, rounded up to a power of 2.
        seed: Of the scrambling.

    Returns:
        0 for a function that does not vary.

    Source: A. Janon et al., ESAIM: Probability and Statistics 18, 2014, 342-364 (the estimator);
    A. Saltelli et al., Computer Physics Communications 181(2), 2010, 259-270 (the sets).
    """
    from scipy.stats import qmc

    if dimensions == 0:
        return np.empty(0)
    points = qmc.Sobol(2 * dimensions, seed=seed).random_base2(max(count - 1, 1).bit_length())
    points = np.clip(points, 1e-12, 1 - 1e-12)
    one, other = points[:, :dimensions], points[:, dimensions:]
    mixed = np.repeat(one[None], dimensions, axis=0)
    for k in range(dimensions):
        # All but one input drawn anew: what stays alike is that one's doing.
        mixed[k] = other
        mixed[k, :, k] = one[:, k]
    values = f(np.concatenate((one, mixed.reshape(-1, dimensions)))).reshape(dimensions + 1, -1)
    mean = values.mean()
    y, z = values[0] - mean, values[1:] - mean
    middle = np.mean((y + z) / 2, axis=1)
    variance = np.mean((y * y + z * z) / 2, axis=1) - middle**2
    covariance = np.mean(y * z, axis=1) - middle**2
    flat = variance <= 1e-24 * max(mean * mean, 1e-300)
    return np.where(flat, 0.0, np.clip(covariance / np.where(flat, 1.0, variance), 0.0, 1.0))
