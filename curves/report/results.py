"""Everything a report says, asked of ``curves`` once; nothing is worked out elsewhere in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TypeVar

import numpy as np

from curves.cautions import (
    Caution,
    Facts,
    Fit,
    Instead,
    Warmth,
    cautions,
    fit,
    instead,
    survey,
)
from curves.motion.climb import held_speed
from curves.motion.energy import Range, steady_range
from curves.motion.heat import HillClimb, Warming, hill, time_to_limit
from curves.motion.runs import Runs, coupled_runs, timed_runs
from curves.numerics.counts import evenly
from curves.numerics.roots import Array
from curves.pace import tell
from curves.parts.job import Job
from curves.parts.labels import NEARLY_EMPTY
from curves.parts.rig import Rig
from curves.present.marks import Mark, mark_of
from curves.present.span import line_end
from curves.report.wish import Wish
from curves.setups.stack import Stack, stack
from curves.steady.balance import TopSpeed, batch_top_speed, top_speed
from curves.steady.envelope import Envelope, batch_envelope
from curves.studies.levers import tried
from curves.studies.packs import PackSweep, pack_sweep
from curves.studies.settings import SETTING
from curves.studies.spread import Band, stack_band, top_speed_band
from curves.studies.weakening import WeakeningSweep, weakening_sweep
from curves.units import KMH, PERCENT, Units
from curves.words.which_pack import Answer, which_pack

T = TypeVar("T")
POINTS = 241
"""Speeds at which a line is drawn."""
FIRST_RIDE = {
    "setup.state_of_charge": 1.0,
    "conditions.grade_percent": 0.0,
    "conditions.headwind_kmh": 0.0,
}
ENOUGH = 1e-6
"""Accuracy of the runs, relative: far finer than their tenth of a second."""
RANGE_SPEEDS = {"km/h": (20, 30, 40), "mph": (12, 18, 25)}
STEPS, OF_ENDURANCE = 7, 4
"""Things that take a moment each, studies apart: of every report, and of heat and range."""
LINES = 16
"""Lines of the table behind a figure, at most."""


@dataclass(frozen=True)
class Speed:
    """A speed of every setup, m/s, NaN where it cannot start, and its band."""

    value: Array
    band: Band


@dataclass(frozen=True)
class Endurance:
    """Heat and range.

    Attributes:
        warming: at top speed, from the state the setups are asked in.
        hill: the goal's hill, None without one.
        range: distance on a charge at some steady speeds.
        range_band: its band, m, shape (setups, speeds).
    """

    warming: Warming
    hill: HillClimb | None
    range: Range
    range_band: Band


@dataclass(frozen=True)
class Results:
    """What the report tells; arrays in SI, the first axis is the setups.

    Attributes:
        job: the job.
        wish: what was wished.
        rigs: every setup with its parts.
        reference: place of the setup that differences are shown against, None for none.
        answer: what leads the page.
        top: top speed in each setup's own state.
        gained: what each lever buys there, setup by setup.
        fresh: top speed with a full pack on level road in still air, as on a first ride.
        plain: the same without any field weakening.
        full: top speed, and its band.
        empty: the same with a nearly empty pack.
        hill: speed held on the goal's hill, None without one.
        lines: everything over road speed, each setup to the end of its line.
        table: the same at round speeds, for the tables behind the figures.
        facts: what each setup asks of its parts.
        fits: whether its parts go together.
        cautions: what to know about it.
        runs: timed runs, charge and temperatures moving.
        runs_band: the band of the times to speeds and then to distances, s.
        endurance: heat and range, None where they were not asked for.
        packs: pack sweeps.
        weakenings: field-weakening sweeps.
    """

    job: Job
    wish: Wish
    rigs: tuple[Rig, ...]
    reference: int | None
    answer: Answer
    top: TopSpeed
    gained: tuple[dict[str, float], ...]
    fresh: TopSpeed
    plain: TopSpeed
    full: Speed
    empty: Speed
    hill: Speed | None
    lines: Envelope
    table: Envelope
    facts: tuple[Facts, ...]
    fits: tuple[Fit, ...]
    cautions: tuple[tuple[Caution, ...], ...]
    runs: Runs
    runs_band: Band
    endurance: Endurance | None
    stacked: Stack = field(repr=False)
    packs: tuple[PackSweep, ...] = ()
    weakenings: tuple[WeakeningSweep, ...] = ()

    def __post_init__(self) -> None:
        slots, count = len(self.wish.slots), len(self.rigs)
        if slots not in (0, count):
            raise ValueError(f"{slots} slots for {count} setups: one for each, or none")

    @property
    def per(self) -> float:
        """m/s per unit of the speeds shown."""
        return _per(self.wish.units)

    def mark(self, k: int) -> Mark:
        """The mark of a setup, by its slot where it has one."""
        return mark_of(self.wish.slots[k] if self.wish.slots else k)

    @property
    def units(self) -> Units:
        """What is read."""
        return self.wish.units

    @property
    def speed_unit(self) -> str:
        """Name of the unit of the speeds shown."""
        return self.wish.units.name("km/h")

    @property
    def chosen(self) -> list[int]:
        """The setups that the page for the controller is about."""
        wanted = self.wish.to_set
        names = [rig.name for rig in self.rigs]
        if wanted:
            return [k for k, name in enumerate(names) if name in wanted]
        return [k for k in range(len(names)) if k != self.reference] or [0]

    def instead(self, k: int) -> dict[str, Instead]:
        """The settings of a setup that a caution forbids, and what is right."""
        return instead(self.rigs[k], self.facts[k], self.units)

    def place(self, name: str) -> int:
        """Which setup has that name."""
        return next(k for k, rig in enumerate(self.rigs) if rig.name == name)


class _Steps:
    """Hands on what was made, and tells that one more thing is."""

    def __init__(self, told: Callable[[int, int], object], most: int) -> None:
        self._told, self._done, self._most = told, 0, most

    def __call__(self, made: T) -> T:
        self._done += 1
        self._told(self._done, self._most)
        return made


_told = partial(tell, "parts of the report")


def results(job: Job, wish: Wish, told: Callable[[int, int], object] = _told) -> Results:
    """Everything a report of this job says.

    Args:
        job: the job.
        wish: what the user wants in it.
        told: called with how many of its steps are done, each a second or two at most; may raise
            to end them.

    Raises:
        JobError: if a setup that is asked for does not exist, or a study cannot be made of it.
        ValueError: if there are slots, but not one for each setup.
    """
    rigs = job.rigs()
    studied = [p.setup for p in wish.packs] + [w.setup for w in wish.weakenings]
    for name in (*studied, *wish.to_set):
        job.rig(name)
    step = _Steps(told, len(studied) + STEPS + OF_ENDURANCE * wish.endurance)
    packs = tuple(
        step(pack_sweep(job.rig(study.setup), study.series, charge=(1.0, 0.5, NEARLY_EMPTY)))
        for study in wish.packs
    )
    weakenings = tuple(
        step(weakening_sweep(job.rig(study.setup), study.amps)) for study in wish.weakenings
    )
    stacked = stack(rigs)
    batch, names = stacked.batch(), tuple(rig.name for rig in rigs)
    top = batch_top_speed(batch, names)
    facts = step(survey(rigs, top))
    lasting = _endurance(rigs, job, top, wish, step) if wish.endurance else None
    warmth = _warmth(lasting, len(rigs))
    end = line_end(batch, top)
    grid = end[:, None] * np.linspace(0.0, 1.0, POINTS)
    units = wish.units
    return Results(
        job=job,
        wish=wish,
        rigs=rigs,
        reference=names.index(job.compare_to) if job.compare_to in names else None,
        answer=step(which_pack(rigs, job.goals, units=units)),
        top=top,
        gained=tried(rigs, units),
        fresh=_varied(stacked, FIRST_RIDE),
        plain=_varied(stacked, FIRST_RIDE | {SETTING: 0.0}),
        full=Speed(top.speed, step(top_speed_band(rigs))),
        empty=step(_nearly_empty(rigs)),
        hill=step(_on_hill(rigs, job)),
        lines=batch_envelope(batch, names, grid),
        table=batch_envelope(batch, names, _round_speeds(float(end.max()), _per(units))),
        facts=facts,
        fits=tuple(fit(rig, f, units=units) for rig, f in zip(rigs, facts, strict=True)),
        cautions=tuple(
            cautions(rig, f, warmth=warm, units=units)
            for rig, f, warm in zip(rigs, facts, warmth, strict=True)
        ),
        runs=step(coupled_runs(rigs, accuracy=ENOUGH).runs),
        runs_band=step(stack_band(rigs, _times)),
        endurance=lasting,
        stacked=stacked,
        packs=packs,
        weakenings=weakenings,
    )


def _varied(stacked: Stack, values: Mapping[str, float]) -> TopSpeed:
    count = len(stacked.names)
    other = stacked.vary({name: np.full(count, value) for name, value in values.items()})
    return batch_top_speed(other.batch(), other.names)


def _times(setups: Stack) -> Array:
    found = timed_runs(setups)
    return np.concatenate((found.speed_time, found.distance_time), axis=1)


def _endurance(rigs: Sequence[Rig], job: Job, top: TopSpeed, wish: Wish, step: _Steps) -> Endurance:
    goal = job.goals.hill
    climbed = None
    if goal is not None and goal.speed_kmh > 0:
        climbed = hill(rigs, goal.grade_percent * PERCENT, goal.length_m, goal.speed_kmh * KMH)
    step(climbed)
    speeds = np.array(RANGE_SPEEDS[wish.units.name("km/h")]) * _per(wish.units)
    return Endurance(
        warming=step(time_to_limit(rigs, np.nan_to_num(top.speed))),
        hill=climbed,
        range=step(steady_range(rigs, speeds)),
        range_band=step(stack_band(rigs, lambda s: steady_range(s, speeds).distance)),
    )


def _warmth(lasting: Endurance | None, count: int) -> list[Warmth]:
    if lasting is None:
        return [Warmth()] * count
    settled = lasting.warming.settled
    both = np.stack((settled.winding_c, settled.case_c), axis=1)
    return [Warmth(*np.where(np.isfinite(row), row, np.nan).tolist()) for row in both]


def _nearly_empty(rigs: Sequence[Rig]) -> Speed:
    asked = [replace(rig, state_of_charge=NEARLY_EMPTY) for rig in rigs]
    return Speed(top_speed(asked).speed, top_speed_band(asked))


def _on_hill(rigs: Sequence[Rig], job: Job) -> Speed | None:
    hill = job.goals.hill
    if hill is None:
        return None
    asked = [rig.on_grade(hill.grade_percent) for rig in rigs]
    return Speed(held_speed(rigs, hill.grade_percent * PERCENT).speed, top_speed_band(asked))


def _per(units: Units) -> float:
    """m/s per unit of the speeds shown."""
    return 1.0 / float(units.speed(1.0))


def _round_speeds(end: float, per: float) -> Array:
    """Speeds in even steps of the unit shown, m/s."""
    return evenly(0.0, end / per, 1.0, LINES) * per
