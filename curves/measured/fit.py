"""Parameters of a job from measured runs from rest: several runs and setups at once.

Every run has a start of its own that is fitted along. Speed always counts; pack volts and amperes
do where the run has them. The state of charge and the temperatures are held during a run.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np

from curves.measured.measured_run import CHANNELS, Channel, Run
from curves.measured.parameters import Parameter, parameters
from curves.measured.predict import changed, electrics, ridden
from curves.measured.regression import Regression, bootstrap, regress
from curves.measured.seen import Series
from curves.motion.state import rows as pick_rows
from curves.numerics.roots import Array, Index
from curves.pace import tell
from curves.parts.job import Job
from curves.parts.reading import refuse, show
from curves.setups.stack import Stack, stack

LEAST: Final[Mapping[Channel, float]] = {"speed": 0.01, "volts": 0.02, "amperes": 0.05}
"""Standard deviation of noise below which none is believed: m/s, V, A."""
START_S: Final = 2.0
"""By how much the start of a run may lie off where it was found."""
SETTLED_S: Final = 0.5
"""Time after the start from which volts and amperes count."""
USUAL_ROUNDS: Final = 8
"""Predictions a fit asks for, and four more a parameter: for telling how far it is."""
ALIKE: Final = 0.95
"""Correlation from which two parameters cannot be told apart, if one of them is also unsure."""
UNSURE: Final = 0.5
"""Standard uncertainty, in usual spreads, from which a parameter counts as unsure there."""
MOST_PAIRS: Final = 3
"""Pairs that are named."""
LITTLE: Final = 1.0
"""Standard uncertainty, in usual spreads, from which data say little of a parameter."""


@dataclass(frozen=True)
class Fit:
    """What a fit found.

    Attributes:
        parameters: The numbers moved, in the order of everything below.
        values: In the job's units.
        low: Lower end of the 95 % interval.
        high: Upper end.
        uncertainty: Standard uncertainties.
        correlation: Shape (parameters, parameters).
        drawn: Bootstrap draws, shape (draws, parameters); no draws where none were asked for.
        starts: Start of each run on its clock, s.
        words: What a person should know, in sentences.
        regression: Everything else: noises, residuals, degrees of freedom.
        series: Which run and channel each of its series is.
    """

    parameters: tuple[Parameter, ...]
    values: Array
    low: Array
    high: Array
    uncertainty: Array
    correlation: Array
    drawn: Array
    starts: Array
    words: tuple[str, ...]
    regression: Regression
    series: tuple[tuple[str, Channel], ...]

    def drawn_interval(self) -> tuple[Array, Array]:
        """Ends of the 95 % intervals of the bootstrap; NaN without draws."""
        if not self.drawn.size:
            nothing = np.full(len(self.parameters), np.nan)
            return nothing, nothing
        low, high = np.quantile(self.drawn, (0.025, 0.975), axis=0)
        return low, high


_told = partial(tell, "predictions")


def fit(
    job: Job,
    runs: Sequence[Run],
    move: Sequence[str],
    *,
    channels: Sequence[Channel] = CHANNELS,
    draws: int = 200,
    seed: int = 0,
    told: Callable[[int, int], None] = _told,
) -> Fit:
    """Move parameters of a job until it predicts what was measured.

    Args:
        job: where the fit begins; it is not changed.
        runs: what was measured.
        move: keys of ``parameters.MOVABLE``.
        channels: what counts.
        draws: bootstrap draws; 0 for none.
        seed: of the draws.
        told: hears how many predictions were asked and about how many it takes; may raise to stop.

    Raises:
        JobError: if a run's setup is unknown or cannot start, or a parameter has no first guess.
    """
    if not runs or not move:
        refuse("fit", "needs at least one run and one thing to move")
    model = _Model.of(job, runs, move, channels)
    k = len(model.parameters)
    start = np.array([p.start for p in model.parameters] + [run.start for run in runs])
    scale = np.array([p.scale for p in model.parameters] + [0.2] * len(runs))
    lower = np.array([p.lower for p in model.parameters] + [r.start - START_S for r in runs])
    upper = np.array([p.upper for p in model.parameters] + [r.start + START_S for r in runs])
    most, asked = USUAL_ROUNDS + 4 * k, 0

    def predict(sets: Array) -> list[Array]:
        nonlocal asked
        asked += 1
        told(min(asked, most), most)
        return model.predict(sets)

    found = regress(model.series, predict, start, lower=lower, upper=upper, scale=scale)
    drawn = np.zeros((0, k))
    if draws:
        rng = np.random.default_rng(seed)
        drawn = bootstrap(found, model.series, predict, count=draws, rng=rng)[:, :k]
    low, high = found.interval()
    result = Fit(
        parameters=model.parameters,
        values=found.values[:k],
        low=low[:k],
        high=high[:k],
        uncertainty=found.uncertainty[:k],
        correlation=found.correlation[:k, :k],
        drawn=drawn,
        starts=found.values[k:],
        words=(),
        regression=found,
        series=model.names,
    )
    return replace(result, words=tuple(_words(result)))


@dataclass(frozen=True)
class _Model:
    """Runs and parameters in hand, and what they predict."""

    parameters: tuple[Parameter, ...]
    base: Stack
    owners: tuple[Index, ...]
    series: tuple[Series, ...]
    names: tuple[tuple[str, Channel], ...]
    places: tuple[tuple[int, Channel], ...]
    samples: tuple[Array, ...]

    @classmethod
    def of(
        cls, job: Job, runs: Sequence[Run], move: Sequence[str], channels: Sequence[Channel]
    ) -> _Model:
        whole = stack(job.rigs())
        known = [setup.name for setup in job.setup]
        for run in runs:
            job.rig(run.setup)
        at = np.array([known.index(run.setup) for run in runs])
        moved = parameters(job, whole, at.tolist(), move)
        base = changed(pick_rows(whole, at), runs)
        if any(np.isnan(ridden(base).top)):
            stuck = int(np.flatnonzero(np.isnan(ridden(base).top))[0])
            refuse(
                f"setup {show(runs[stuck].setup)}",
                "cannot start as the job has it, so no run can be fitted: check its load and tune",
            )
        series, names, places, samples = [], [], [], []
        for k, run in enumerate(runs):
            for channel in channels:
                values = run.channel(channel)
                if values is None:
                    continue
                # At rest nothing is told, and receivers are quieter than on the move; what a
                # controller does while it lets its current rise is not predicted.
                begin = run.start + (0.0 if channel == "speed" else SETTLED_S)
                good = np.isfinite(values) & (run.time >= begin)
                if good.sum() < 4:
                    if channel == "speed":
                        refuse(run.name, f"has {good.sum()} samples of speed: a fit needs more")
                    continue
                one = Series(f"{run.name}, {channel}", run.time[good], values[good], LEAST[channel])
                series.append(one)
                names.append((run.name, channel))
                places.append((k, channel))
                samples.append(one.time)
        owners = tuple(np.flatnonzero(np.isin(at, p.setups)) for p in moved)
        return cls(moved, base, owners, tuple(series), tuple(names), tuple(places), tuple(samples))

    def predict(self, sets: Array) -> list[Array]:
        """What sets of parameters and starts predict of each series."""
        k, runs = len(self.parameters), len(self.base.names)
        # Sets that differ in their starts alone ride the same runs.
        distinct, which = np.unique(sets[:, :k], axis=0, return_inverse=True)
        which = which.reshape(-1)
        runs_of = ridden(self.stacked(distinct))
        out = []
        for (run, channel), time in zip(self.places, self.samples, strict=True):
            rows = np.asarray(which * runs + run, dtype=np.intp)
            since = time[None, :] - sets[:, k + run, None]
            speed, _ = runs_of.at(rows, since)
            if channel == "speed":
                out.append(speed)
                continue
            volts, amperes = electrics(runs_of.batch, rows, speed)
            out.append(volts if channel == "volts" else amperes)
        return out

    def stacked(self, sets: Array) -> Stack:
        """Every run under every set of parameters, runs within sets."""
        runs = len(self.base.names)
        many = pick_rows(self.base, np.tile(np.arange(runs), len(sets)))
        values = dict(many.values)
        for k, parameter in enumerate(self.parameters):
            column = values[parameter.field].copy().reshape(len(sets), runs)
            column[:, self.owners[k]] = sets[:, k, None]
            values[parameter.field] = column.ravel()
        return replace(many, values=values)


def _words(found: Fit) -> list[str]:
    names = [p.name for p in found.parameters]
    said = list(_alike(found))
    for k, parameter in enumerate(found.parameters):
        helps = parameter.about.helps
        if found.regression.at_bound[k]:
            said.append(
                f"{names[k]} ran to the end of what it may be ({found.values[k]:.3g}): something "
                "else is wrong, or it stands for something that is not moved."
            )
        elif found.uncertainty[k] > LITTLE * parameter.scale:
            said.append(
                f"These runs say little of {names[k]}{f': {helps} would' if helps else ''}."
            )
    low, high = found.drawn_interval()
    for k, name in enumerate(names):
        share = (high[k] - low[k]) / max(found.high[k] - found.low[k], 1e-300)
        if np.isfinite(share) and not 0.6 < share < 1.6:
            said.append(
                f"The two intervals of {name} differ: the problem is far from linear there, so "
                "take the wider one."
            )
    if not found.regression.converged:
        said.append("The search had not come to rest: begin nearer to the truth, or move less.")
    return said


def _alike(found: Fit) -> Iterator[str]:
    """Which parameters the runs cannot tell apart, the most alike first."""
    unsure = found.uncertainty / np.array([p.scale for p in found.parameters])
    pairs = [
        (abs(found.correlation[i, j]), i, j)
        for i in range(len(found.parameters))
        for j in range(i + 1, len(found.parameters))
        if abs(found.correlation[i, j]) >= ALIKE and max(unsure[i], unsure[j]) >= UNSURE
    ]
    for _, i, j in sorted(pairs, reverse=True)[:MOST_PAIRS]:
        r = found.correlation[i, j]
        two = found.parameters[i], found.parameters[j]
        helps = [f"{p.about.helps} tells {p.name}" for p in two if p.about.helps]
        yield (
            f"These runs cannot tell {two[0].name} from {two[1].name} (correlation {r:+.2f}): more "
            f"of one looks like {'less' if r > 0 else 'more'} of the other. Hold one of them"
            f"{'; ' + ', '.join(helps) if helps else ''}."
        )
