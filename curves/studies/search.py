"""The search: ranges of inputs and goals in, the setups that meet them and their front out."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from contextlib import nullcontext
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from curves.errors import JobError, Problem
from curves.numerics.roots import Array, Index
from curves.pace import tell
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.studies.cells import Caps, Hold, checked_fields, value_problem, with_inputs
from curves.studies.common import pick
from curves.studies.front import Goal, front_of
from curves.studies.results import result, results_of
from curves.studies.workers import AHEAD, local, shared

BUDGET = 10_000
PIECE = 1024
"""Setups solved at a time. It does not depend on who solves them, so neither do the results."""
FIRST = 0.4
"""Share of the budget spread over the whole space before the search closes in."""
PARENTS = 64
ROUNDS = 5


@dataclass(frozen=True)
class Span:
    """An input and the values it may take.

    Attributes:
        field: ``part.field`` such as ``pack.series``; what follows from cells follows.
        values: In the job file's unit, rising.
    """

    field: str
    values: tuple[float, ...]


@dataclass(frozen=True)
class Found:
    """What a search found; arrays have a row for each setup tried, in the order of the space.

    Attributes:
        names: The job's setups that were varied.
        fields: Inputs, one a column of ``values``.
        results: Names of the results, one a column of ``outcome``.
        goals: What was asked.
        objectives: Results the front trades against each other.
        base: Which of ``names`` a row started from.
        values: Inputs, in the job file's units.
        outcome: Results, in the unit of each name; NaN where there is none.
        meets: Whether every goal is kept.
        front: Whether it meets the goals and none that does beats it in every objective.
        missing: The largest share by which a goal is missed, 0 where all are kept.
        size: Combinations in the whole space.
        complete: Whether all of them were tried.
        stopped: Whether it was stopped before its end.
    """

    names: tuple[str, ...]
    fields: tuple[str, ...]
    results: tuple[str, ...]
    goals: tuple[Goal, ...]
    objectives: tuple[str, ...]
    base: Index
    values: Array
    outcome: Array
    meets: NDArray[np.bool_]
    front: NDArray[np.bool_]
    missing: Array
    size: int
    complete: bool
    stopped: bool


def search(
    rigs: Sequence[Rig],
    spans: Sequence[Span],
    goals: Sequence[Goal] = (),
    objectives: Sequence[str] = ("top_speed_kmh",),
    *,
    also: Sequence[str] = (),
    hold: Hold = "strings",
    caps: Caps = "present",
    budget: int = BUDGET,
    seed: int = 0,
    executor: Executor | None = None,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Found:
    """Setups that meet goals, and the front of those that no other beats.

    A space within the budget is tried whole. A larger one is first sampled evenly, then around
    the best so far; the same seed finds the same, whoever does the work.

    Args:
        rigs: Setups to start from; each is combined with every value.
        spans: Inputs that vary.
        goals: Bounds that must be kept.
        objectives: Names of results to trade; each knows whether more or less is better.
        also: Names of further results to report.
        hold: What stays while the count of cells changes.
        caps: What the caps do then.
        budget: The most setups tried.
        seed: Of the samples.
        executor: Who does the work; None for processes on this machine where that pays.
        workers: How many processes; None for one a core.
        progress: Told setups tried and the most there may be.
        stop: Asked now and then; True ends the search with what it has.

    Raises:
        JobError: for an input or result that does not exist, or values that are not allowed.
    """
    names = tuple(dict.fromkeys((*objectives, *(g.result for g in goals), *also)))
    base = stack(rigs)
    _check(rigs, base, spans, names, objectives, budget)
    space = _Space(base, tuple(spans), hold, caps)
    hunt = _Hunt(space, names, tuple(goals), tuple(objectives), budget)
    pieces = min(budget, space.size) / PIECE
    here = executor is not None or pieces <= 2 or workers == 1
    with nullcontext(executor) if here else local(workers) as doers:
        ahead = AHEAD * (workers or os.cpu_count() or 1) if executor is None else 1000
        return hunt.run(doers, ahead, np.random.default_rng(seed), progress, stop)


@dataclass(frozen=True)
class _Space:
    """Every combination of setups and values, numbered like the digits of a clock."""

    base: Stack
    spans: tuple[Span, ...]
    hold: Hold
    caps: Caps

    @property
    def shape(self) -> tuple[int, ...]:
        return (len(self.base.names), *(len(span.values) for span in self.spans))

    @property
    def size(self) -> int:
        # As whole numbers of any length: a space may be larger than an array can count.
        size = 1
        for n in self.shape:
            size *= n
        return size

    def values(self, steps: Index) -> Array:
        """Inputs at positions along each axis, shape (n, axes)."""
        columns = [np.array(s.values)[steps[:, k + 1]] for k, s in enumerate(self.spans)]
        return np.stack(columns, axis=1) if columns else np.empty((steps.shape[0], 0))

    def setups(self, steps: Index) -> Stack:
        """The setups at those positions."""
        values = self.values(steps)
        changes = {span.field: values[:, k] for k, span in enumerate(self.spans)}
        return with_inputs(pick(self.base, steps[:, 0]), changes, hold=self.hold, caps=self.caps)


def solve_piece(space: _Space, names: tuple[str, ...], steps: Index) -> Array:
    """Results of a piece of a space; a function of its own so that other processes find it."""
    return results_of(space.setups(steps), names)


class _Hunt:
    """A search under way: what was tried, and where to look next."""

    def __init__(
        self,
        space: _Space,
        names: tuple[str, ...],
        goals: tuple[Goal, ...],
        objectives: tuple[str, ...],
        budget: int,
    ) -> None:
        self.space, self.names, self.goals, self.objectives = space, names, goals, objectives
        self.total = min(budget, space.size)
        self.steps = np.empty((0, len(space.shape)), dtype=np.intp)
        self.outcome = np.empty((0, len(names)))
        self.seen: set[bytes] = set()

    def run(
        self,
        doers: Executor | None,
        ahead: int,
        rng: np.random.Generator,
        progress: Callable[[int, int], None] | None,
        stop: Callable[[], bool] | None,
    ) -> Found:
        stopped = False

        def told(pieces: int) -> bool:
            nonlocal stopped
            done = min(len(self.outcome) + pieces * PIECE, self.total)
            tell("setups tried", done, self.total)
            if progress is not None:
                progress(done, self.total)
            stopped = stopped or (stop is not None and stop())
            return stopped

        whole = self.space.size <= self.total
        while not stopped and len(self.outcome) < self.total:
            steps = self._everything() if whole else self._next(rng)
            if not len(steps):
                break
            cut = [steps[k : k + PIECE] for k in range(0, len(steps), PIECE)]
            work = partial(solve_piece, self.space, self.names)
            solved = shared(work, cut, doers, ahead=ahead, done=told)
            back = np.concatenate(solved) if solved else np.empty((0, len(self.names)))
            self.steps = np.concatenate((self.steps, steps[: len(back)]))
            self.outcome = np.concatenate((self.outcome, back))
        return self._found(stopped)

    def _everything(self) -> Index:
        return np.stack(np.unravel_index(np.arange(self.space.size), self.space.shape), axis=1)

    def _next(self, rng: np.random.Generator) -> Index:
        """Where to look next: evenly at first, then beside the best, with a few at random."""
        left = self.total - len(self.outcome)
        if not len(self.outcome):
            return self._new(self._even(int(np.ceil(FIRST * self.total)), rng))
        room = min(left, max(int((1 - FIRST) * self.total / ROUNDS), 1))
        best = self._best()
        moves = rng.integers(0, len(self.space.shape), 4 * room)
        parents = self.steps[best[rng.integers(0, best.size, 4 * room)]]
        far = np.ceil(rng.exponential(1.0, 4 * room)).astype(np.intp)
        beside = parents.copy()
        rows = np.arange(4 * room)
        beside[rows, moves] += far * rng.choice([-1, 1], 4 * room)
        # Half of them cross two of the best as well.
        mates = self.steps[best[rng.integers(0, best.size, 4 * room)]]
        crossed = (rng.random(beside.shape) < 0.5) & (rows % 2 == 0)[:, None]
        beside = np.where(crossed, mates, beside)
        beside = np.clip(beside, 0, np.array(self.space.shape) - 1)
        some = self._new(np.concatenate((beside[: 3 * room], self._any(room, rng), beside)))
        return some[:room]

    def _even(self, count: int, rng: np.random.Generator) -> Index:
        from scipy.stats import qmc

        shape = np.array(self.space.shape)
        points = qmc.Sobol(shape.size, seed=rng).random_base2(max(count - 1, 1).bit_length())
        even: Index = np.minimum((points[:count] * shape).astype(np.intp), shape - 1)
        return even

    def _any(self, count: int, rng: np.random.Generator) -> Index:
        return rng.integers(0, self.space.shape, (count, len(self.space.shape)))

    def _new(self, steps: Index) -> Index:
        """Those not tried yet, each once, in their order."""
        kept = []
        for k, row in enumerate(steps):
            key = row.tobytes()
            if key not in self.seen:
                self.seen.add(key)
                kept.append(k)
        return steps[kept]

    def _best(self) -> Index:
        """The front of what meets the goals, or what comes closest to meeting them."""
        missing = self._missing()
        front = np.flatnonzero(self._front(missing))
        if front.size >= PARENTS:
            return front
        closest = np.argsort(missing, kind="stable")[: PARENTS - front.size]
        return np.concatenate((front, closest))

    def _missing(self) -> Array:
        short = [g.missing(self.outcome[:, self.names.index(g.result)]) for g in self.goals]
        return np.max(short, axis=0) if short else np.zeros(len(self.outcome))

    def _front(self, missing: Array) -> NDArray[np.bool_]:
        columns = [self.names.index(name) for name in self.objectives]
        ways = np.array([-float(result(name).best) for name in self.objectives])
        costs = self.outcome[:, columns] * ways
        costs[missing > 0] = np.nan
        return front_of(costs)

    def _found(self, stopped: bool) -> Found:
        missing = self._missing()
        order = np.lexsort(self.steps.T[::-1])
        front = self._front(missing)
        return Found(
            names=self.space.base.names,
            fields=tuple(span.field for span in self.space.spans),
            results=self.names,
            goals=self.goals,
            objectives=self.objectives,
            base=self.steps[order, 0],
            values=self.space.values(self.steps[order]),
            outcome=self.outcome[order],
            meets=missing[order] == 0,
            front=front[order],
            missing=missing[order],
            size=self.space.size,
            complete=len(self.outcome) == self.space.size,
            stopped=stopped,
        )


def _check(
    rigs: Sequence[Rig],
    base: Stack,
    spans: Sequence[Span],
    names: Sequence[str],
    objectives: Sequence[str],
    budget: int,
) -> None:
    checked_fields(base, [span.field for span in spans])
    problems = []
    if not rigs:
        problems.append(Problem("setups", "", "must be one or more"))
    if not objectives:
        problems.append(Problem("objectives", "", "must be one or more results"))
    if budget < 1:
        problems.append(Problem("budget", f"{budget}", "must be at least 1"))
    for span in spans:
        said = value_problem(span.field, span.values)
        if said:
            problems.append(Problem(span.field, f"{list(span.values)}"[:80], said))
    if problems:
        raise JobError(problems)
    for name in names:
        result(name)
