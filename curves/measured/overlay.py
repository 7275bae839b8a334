"""Measured runs beside predicted ones: over time, what differs, and the splits of both."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curves.measured.measured_run import CHANNELS, Run
from curves.measured.predict import changed, electrics, ridden
from curves.measured.splits import Splits, measured_splits
from curves.motion.runs import Runs, Targets, timed_runs
from curves.motion.state import rows as pick_rows
from curves.numerics.roots import Array
from curves.parts.job import Job
from curves.setups.stack import Stack, stack


@dataclass(frozen=True)
class Split:
    """One split of a run, measured and predicted; NaN where not reached.

    Attributes:
        kind: ``speed``, ``distance`` (both in s) or ``speed at distance`` (in m/s).
        target: m/s or m.
        measured: In the unit of its kind.
        uncertainty: Standard uncertainty of the measured one.
        predicted: In the unit of its kind.
    """

    kind: str
    target: float
    measured: float
    uncertainty: float
    predicted: float

    @property
    def difference(self) -> float:
        """Measured less predicted."""
        return self.measured - self.predicted


@dataclass(frozen=True)
class Overlay:
    """One measured run beside its prediction; arrays of shape (samples,), SI.

    Attributes:
        run: What was measured.
        time: s from the start of motion.
        measured: ``speed``, ``distance`` and, where the log has them, ``volts`` and ``amperes``.
        predicted: The same of the job.
        splits: Measured and predicted.
        found: The measured splits in full.
    """

    run: Run
    time: Array
    measured: Mapping[str, Array]
    predicted: Mapping[str, Array]
    splits: tuple[Split, ...]
    found: Splits

    def residual(self, channel: str) -> Array:
        """Measured less predicted."""
        return np.asarray(self.measured[channel] - self.predicted[channel])


def overlay(
    job: Job,
    runs: Sequence[Run],
    *,
    starts: Array | None = None,
    targets: Targets | None = None,
) -> tuple[Overlay, ...]:
    """Measured runs beside what a job predicts of them.

    Args:
        job: the job.
        runs: what was measured.
        starts: start of each run on its clock, s, as a fit finds it; the runs' own if left out.
        targets: speeds and distances to be timed; the usual ones if left out.

    Raises:
        JobError: if a run's setup does not exist.
    """
    asked = targets or Targets()
    stacked = stacked_runs(job, runs)
    paths = ridden(stacked)
    predicted = timed_runs(stacked, asked)
    begin = np.array([run.start for run in runs]) if starts is None else starts
    made = []
    for k, run in enumerate(runs):
        row = np.array([k])
        time = run.time - begin[k]
        speed, distance = (x[0] for x in paths.at(row, time[None, :]))
        volts, amperes = (x[0] for x in electrics(paths.batch, row, speed[None, :]))
        theirs = {"speed": speed, "distance": distance, "volts": volts, "amperes": amperes}
        ours = {"speed": run.speed, "distance": _distance(time, run.speed)}
        ours |= {
            name: values
            for name in CHANNELS
            if name != "speed" and (values := run.channel(name)) is not None
        }
        start = None if starts is None else float(begin[k])
        found = measured_splits(run.time, run.speed, run.launch, asked, start=start)
        both = tuple(_splits(found, predicted, k))
        made.append(Overlay(run, time, ours, {n: theirs[n] for n in ours}, both, found))
    return tuple(made)


def stacked_runs(job: Job, runs: Sequence[Run]) -> Stack:
    """The setup of each run, with what was other than the job says for it alone.

    Args:
        job: the job.
        runs: what was measured.

    Raises:
        JobError: if a run's setup does not exist, or a change is no field of a setup.
    """
    for run in runs:
        job.rig(run.setup)
    known = [setup.name for setup in job.setup]
    at = np.array([known.index(run.setup) for run in runs])
    return changed(pick_rows(stack(job.rigs()), at), runs)


def _distance(time: Array, speed: Array) -> Array:
    since = np.maximum(time, 0.0)
    steps = np.diff(since)
    moved = np.where(since > 0, np.nan_to_num(speed), 0.0)
    way = np.concatenate(([0.0], np.cumsum((moved[1:] + moved[:-1]) / 2 * steps)))
    return np.asarray(way + (moved[0] / 2 * since[0] if time.size else 0.0))


def _splits(found: Splits, predicted: Runs, k: int) -> list[Split]:
    asked = found.targets
    table = (
        ("speed", asked.speeds, found.speed_time, found.speed_time_u, predicted.speed_time[k]),
        (
            "distance",
            asked.distances,
            found.distance_time,
            found.distance_time_u,
            predicted.distance_time[k],
        ),
        (
            "speed at distance",
            asked.distances,
            found.distance_speed,
            found.distance_speed_u,
            predicted.distance_speed[k],
        ),
    )
    return [
        Split(kind, *(float(x) for x in row))
        for kind, *columns in table
        for row in zip(*columns, strict=True)
    ]


def rms(one: Overlay, channel: str) -> float:
    """Root mean square of what differs, from the start on, in SI.

    Args:
        one: the run.
        channel: which quantity.
    """
    left = one.residual(channel)[one.time > 0]
    left = left[np.isfinite(left)]
    return float(np.sqrt(np.mean(left**2))) if left.size else float("nan")
