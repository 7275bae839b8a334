"""Parameters of a job from measured runs from rest: several runs and setups at once.

Every run has a start of its own that is fitted along. Speed always counts; pack volts and amperes
do where the run has them. The state of charge and the temperatures are held during a run.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal, TypeAlias

import numpy as np

from curves.measured.parameters import Parameter, parameters
from curves.measured.predict import electrics, ridden
from curves.measured.regression import Regression, bootstrap, regress
from curves.measured.seen import Series
from curves.parts.job import Job
from curves.parts.reading import refuse, show
from curves.roots import Array, Index
from curves.stack import Stack, stack
from curves.state import rows as pick_rows

Channel: TypeAlias = Literal["speed", "volts", "amperes"]
CHANNELS: Final[tuple[Channel, ...]] = ("speed", "volts", "amperes")
LEAST: Final[Mapping[Channel, float]] = {"speed": 0.01, "volts": 0.02, "amperes": 0.05}
"""Standard deviation of noise below which none is believed: m/s, V, A."""
START_S: Final = 2.0
"""By how much the start of a run may lie off where it was found."""
ALIKE: Final = 0.95
"""Correlation from which two parameters cannot be told apart, if one of them is also unsure."""
UNSURE: Final = 0.5
"""Standard uncertainty, in usual spreads, from which a parameter counts as unsure there."""
LITTLE: Final = 1.0
"""Standard uncertainty, in usual spreads, from which data say little of a parameter."""


@dataclass(frozen=True)
class Run:
    """One measured run from rest, its clock near 0 at the start of motion.

    Attributes:
        name: For people.
        setup: Name of the job's setup that was ridden.
        time: s, rising, shape (samples,).
        speed: m/s, shape (samples,); NaN where not measured.
        volts: Of the pack, shape (samples,); None where the log has none.
        amperes: Out of the pack, shape (samples,); None where the log has none.
        changes: What was other than the job says for this run alone: a field of the stack, such as
            ``conditions.headwind_kmh``, to its value.
        start: When it began on its own clock, s.
    """

    name: str
    setup: str
    time: Array
    speed: Array
    volts: Array | None = None
    amperes: Array | None = None
    changes: Mapping[str, float] = field(default_factory=dict)
    start: float = 0.0

    def channel(self, channel: Channel) -> Array | None:
        """Samples of a channel."""
        value: Array | None = getattr(self, channel)
        return value


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


def fit(
    job: Job,
    runs: Sequence[Run],
    move: Sequence[str],
    *,
    channels: Sequence[Channel] = CHANNELS,
    draws: int = 200,
    seed: int = 0,
) -> Fit:
    """Move parameters of a job until it predicts what was measured.

    Args:
        job: where the fit begins; it is not changed.
        runs: what was measured.
        move: keys of ``parameters.MOVABLE``.
        channels: what counts.
        draws: bootstrap draws; 0 for none.
        seed: of the draws.

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
    found = regress(model.series, model.predict, start, lower=lower, upper=upper, scale=scale)
    drawn = np.zeros((0, k))
    if draws:
        rng = np.random.default_rng(seed)
        drawn = bootstrap(found, model.series, model.predict, count=draws, rng=rng)[:, :k]
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


def corrected(job: Job, found: Fit, *, runs: Sequence[Run]) -> Job:
    """The job with what was found in it, each value with its source and tolerance; the old stays.

    Args:
        job: as it was fitted.
        found: what was found.
        runs: what it rests on.

    Raises:
        JobError: if a value found is not allowed in a job.
    """
    names = ", ".join(dict.fromkeys(run.name for run in runs))
    note = f"measured: fitted to {len(runs)} run{'s' * (len(runs) > 1)} ({names})"[:200]
    changed = job
    for k, parameter in enumerate(found.parameters):
        value, u = float(found.values[k]), float(found.uncertainty[k])
        digits = max(2 - int(np.floor(np.log10(max(u, 1e-9)))), 0)
        value = float(np.clip(round(value, digits), parameter.lower, parameter.upper))
        path = parameter.path
        if isinstance(path[-1], int):
            whole = list(changed.bike[str(path[1])].road_load_n or (0.0, 0.0, 0.0))
            whole[path[-1]] = value
            changed = changed.replace(path[:-1], whole)
            path = path[:-1]
        else:
            changed = changed.replace(path, value)
        if path[0] == "setup":
            continue
        table, name = path[:-1], str(path[-1])
        changed = changed.replace((*table, "sources", name), note)
        if isinstance(parameter.path[-1], str) and value != 0:
            share = min(float(f"{u / abs(value):.2g}"), 1.0)
            changed = changed.replace((*table, "tolerance", name), share)
    return changed


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
        base = _changed(pick_rows(whole, at), runs)
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
                good = np.isfinite(values) & np.isfinite(run.time)
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
            volts, amperes = electrics(runs_of.batch, rows, np.where(since >= 0, speed, np.nan))
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


def _changed(base: Stack, runs: Sequence[Run]) -> Stack:
    values = dict(base.values)
    for k, run in enumerate(runs):
        for name, value in run.changes.items():
            if name not in values:
                refuse(run.name, "is no field of a setup", show(name))
            values[name] = values[name].copy()
            values[name][k] = value
    return replace(base, values=values)


def _words(found: Fit) -> list[str]:
    said = []
    names = [p.name for p in found.parameters]
    for i in range(len(names)):
        for j in range(i + 1, len(names)):
            r = found.correlation[i, j]
            unsure = found.uncertainty / np.array([p.scale for p in found.parameters])
            if abs(r) < ALIKE or max(unsure[i], unsure[j]) < UNSURE:
                continue
            helps = [
                f"{p.about.helps} tells {p.name}"
                for p in (found.parameters[i], found.parameters[j])
                if p.about.helps
            ]
            more = "less" if r > 0 else "more"
            said.append(
                f"These runs cannot tell {names[i]} from {names[j]} (correlation {r:+.2f}): more "
                f"of one looks like {more} of the other. Hold one of them"
                f"{'; ' + ', '.join(helps) if helps else ''}."
            )
    for k, parameter in enumerate(found.parameters):
        if found.regression.at_bound[k]:
            said.append(
                f"{parameter.name} ran to the end of what it may be ({found.values[k]:.3g}): "
                "something else is wrong, or it stands for something that is not moved."
            )
        elif found.uncertainty[k] > LITTLE * parameter.scale:
            said.append(
                f"These runs say little of {parameter.name}"
                f"{f': {parameter.about.helps} would' if parameter.about.helps else ''}."
            )
    low, high = found.drawn_interval()
    for k, parameter in enumerate(found.parameters):
        width, drawn = found.high[k] - found.low[k], high[k] - low[k]
        if np.isfinite(drawn) and not 0.6 < drawn / max(width, 1e-300) < 1.6:
            said.append(
                f"The two intervals of {parameter.name} differ: the problem is far from linear "
                "there, so take the wider one."
            )
    if not found.regression.converged:
        said.append("The search had not come to rest: begin nearer to the truth, or move less.")
    return said
