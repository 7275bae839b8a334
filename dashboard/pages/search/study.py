"""The search as a page asks for it: read from the view, run by ``curves``, and kept."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import numpy as np

from curves.setups.stack import stack
from curves.studies.cells import Caps, Hold, numbers_changed
from curves.studies.front import Goal
from curves.studies.results import OFFERED, result
from curves.studies.search import BUDGET, Found, Span, search
from dashboard.answers.memory import Memory
from dashboard.answers.setups import Comparison, Reading, key_of
from dashboard.answers.study_options import CAPS, HOLDS
from dashboard.state.session import Session, View
from dashboard.widgets import choice, options
from dashboard.widgets.inputs import Input, inputs_of
from dashboard.widgets.progress import Task

NAME = "search"
USUAL_INPUTS = ("pack.series", "tune.pack_current_a", "tune.field_weakening_a")
USUAL_GOALS = ("top_speed_kmh", "full_charge_v")
USUAL_TRADES = ("top_speed_kmh", "peak_pack_a")
STEPS = 9
MOST_INPUTS, MOST_GOALS, MOST_TRADES = 6, 6, 3
TOUCH_V = 60.0

_found = Memory(16)


@dataclass(frozen=True)
class Asked:
    """What is searched.

    Attributes:
        reading: The setup it starts from.
        inputs: What varies.
        ranges: From where to where, and in how many steps.
        goals: Bounds to keep.
        trades: Results traded against each other.
        hold: What stays while the cells change.
        caps: What the caps do then.
        budget: The most setups tried.
        seed: Of the samples.
    """

    reading: Reading
    inputs: tuple[Input, ...]
    ranges: tuple[tuple[float, float, int], ...]
    goals: tuple[Goal, ...]
    trades: tuple[str, ...]
    hold: Hold
    caps: Caps
    budget: int
    seed: int

    @property
    def problem(self) -> str:
        """Why it cannot be searched, empty if it can."""
        if not self.inputs:
            return "Choose at least one input to vary."
        if not self.trades:
            return "Choose at least one result to trade."
        for one, (low, high, _) in zip(self.inputs, self.ranges, strict=True):
            if said := one.problem(low, high):
                return f"{one.label}: the range {said}."
        return ""

    @property
    def spans(self) -> tuple[Span, ...]:
        """The inputs with their values."""
        return tuple(
            Span(one.name, one.values(*ends))
            for one, ends in zip(self.inputs, self.ranges, strict=True)
        )

    @property
    def size(self) -> int:
        """Combinations."""
        return int(np.prod([len(span.values) for span in self.spans], dtype=object))

    @property
    def key(self) -> str:
        """What tells its answer from others'."""
        told = [self.spans, [str(g) for g in self.goals], self.trades, self.hold, self.caps]
        return json.dumps([*key_of(self.reading.rig), repr(told), self.budget, self.seed])


def asked_of(compared: Comparison, view: View) -> Asked | None:
    """What the page asks, None without a setup."""
    reading = choice.chosen(compared, view, NAME)
    if reading is None:
        return None
    # Conditions are those of the whole job, so no setup found could bring its own.
    known = {k: v for k, v in inputs_of(reading.rig).items() if not k.startswith("conditions.")}
    names = options.several_chosen(view, NAME, "vary", known, USUAL_INPUTS)
    goals = options.several_chosen(view, NAME, "goals", OFFERED, USUAL_GOALS)
    trades = options.several_chosen(view, NAME, "trades", OFFERED, USUAL_TRADES)
    inputs = tuple(known[name] for name in names)
    hold = options.chosen(view, NAME, "hold", tuple(HOLDS))
    caps = options.chosen(view, NAME, "caps", tuple(CAPS))
    return Asked(
        reading,
        inputs,
        tuple((*options.entered_range(view, NAME, one), _steps(view, one)) for one in inputs),
        tuple(_goal(name, compared, reading, view) for name in goals),
        tuple(trades),
        next(h for h in HOLDS if h == hold),
        next(c for c in CAPS if c == caps),
        int(options.entered(view, NAME, "budget", BUDGET, 1, 1_000_000)),
        int(options.entered(view, NAME, "seed", 0, 0, 1e9)),
    )


def _steps(view: View, one: Input) -> int:
    return int(options.entered(view, NAME, f"steps {one.name}", STEPS, 2, 200))


def _goal(name: str, compared: Comparison, reading: Reading, view: View) -> Goal:
    usual = {
        "top_speed_kmh": compared.job.goals.top_speed_kmh or _rounded(reading.curve.top),
        "full_charge_v": TOUCH_V,
    }.get(name, USUAL_BOUNDS.get(name, 100.0))
    bound = options.entered(view, NAME, f"goal {name}", usual, -1e9, 1e9)
    return Goal(name, bound, at_least=result(name).best > 0)


USUAL_BOUNDS = {"winding_c": 120.0, "peak_pack_a": 30.0, "wh_per_km": 20.0, "pack_kg": 6.0,
                "time_to_30mph_s": 20.0, "time_to_50kmh_s": 20.0, "time_to_660ft_s": 25.0,
                "grade_at_15kmh_percent": 8.0, "drive_off_emf_cold_v": 60.0}  # fmt: skip


def _rounded(kmh: float) -> float:
    return float(round(kmh)) if np.isfinite(kmh) else 25.0


def found_for(asked: Asked) -> Found | None:
    """What a search found, None if it was not run."""
    found: Found | None = _found.get(asked.key)
    return found


def work(compared: Comparison, view: View, task: Task) -> None:
    """Run the search; a stop keeps what there is."""
    asked = asked_of(compared, view)
    if asked is None or asked.problem:
        return
    found = search(
        [asked.reading.rig],
        asked.spans,
        asked.goals,
        asked.trades,
        hold=asked.hold,
        caps=asked.caps,
        budget=asked.budget,
        seed=asked.seed,
        progress=task.note,
        stop=lambda: task.stopped,
    )
    _found.put(asked.key, found)


def in_order(found: Found) -> list[int]:
    """Rows of the front, the best in the first objective first; the closest where none meets.

    Of setups that are equal in every objective the first stands for all.
    """
    rows = np.flatnonzero(found.front)
    if not rows.size:
        return [int(np.argmin(found.missing))] if len(found.missing) else []
    columns = np.array([found.results.index(name) for name in found.objectives])
    values = found.outcome[np.ix_(rows, columns)]
    told_apart = np.array([[float(f"{x:.5g}") for x in row] for row in values])
    _, first = np.unique(told_apart, axis=0, return_index=True)
    rows = rows[np.sort(first)]
    best = found.outcome[rows, columns[0]] * result(found.objectives[0]).best
    return [int(k) for k in rows[np.argsort(-best, kind="stable")]]


def added(session: Session, asked: Asked, found: Found, row: int) -> Session:
    """The session with one of the setups found at its end.

    Raises:
        JobError: if the job does not allow it.
    """
    changes = dict(zip(found.fields, found.values[row].tolist(), strict=True))
    base = stack([asked.reading.rig])
    numbers = numbers_changed(base, changes, hold=asked.hold, caps=asked.caps)
    return session.variant(asked.reading.slot, numbers)


def told(found: Found, row: int) -> list[tuple[str, float]]:
    """Results of a row by name."""
    values: list[Any] = found.outcome[row].tolist()
    return list(zip(found.results, values, strict=True))
