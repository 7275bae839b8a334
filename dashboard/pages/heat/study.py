"""Heat of the setups on the page: asks ``curves.motion.heat``, and keeps what it answered."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves import Rig
from curves.motion.climb import steepest_grade
from curves.motion.heat import hill, time_to_limit
from curves.motion.heat.steepness import settled_to_steepest
from curves.motion.heat.tracks import hill_tracks
from curves.parts.goals import Hill
from curves.steady.balance import top_speed
from curves.units import KILOMETRE, KMH, MINUTE, PERCENT
from curves.words.hill import sentence
from dashboard.answers.setups import Comparison, Reading, known, remembered_together
from dashboard.state.session import View
from dashboard.widgets import choice
from dashboard.widgets.progress import Task

Array = NDArray[np.float64]

NAME = "heat"
"""Of the page."""

FURTHEST = 3.0
"""Lengths of the goal's hill that are drawn where heat ends no climb sooner."""
SPEEDS, GRADES = 33, 24
"""Points of the map."""


@dataclass(frozen=True)
class Climb:
    """One setup on the goal's hill; km, NaN where not known, infinite where heat never ends it.

    Attributes:
        longest: Of such a hill before the winding's limit, with ``low`` and ``high``, its band
            from 5 to 95 %.
        minutes: To the limit, NaN where it is not reached.
        starts: Whether it starts on it.
        held_kmh: Speed at the foot; 0 too where a cap is 0.
        way: km along the hill, for drawing, with ``winding_c`` and ``case_c``.
        sentence: All of it in words.
    """

    longest: float
    low: float
    high: float
    minutes: float
    starts: bool
    held_kmh: float
    way: Array
    winding_c: Array
    case_c: Array
    sentence: str

    @property
    def goes(self) -> bool:
        """Whether it gets away on the hill."""
        return self.starts and self.held_kmh > 0


@dataclass(frozen=True)
class Level:
    """One setup at a steady speed on its own road.

    Attributes:
        kmh: Speed asked for, and ``held_kmh`` once hot.
        winding_c: Where the winding settles; infinite where it does not, NaN where not known.
        minutes: To its limit; infinite where it stays below, NaN where not known.
    """

    kmh: float
    held_kmh: float
    winding_c: float
    minutes: float


@dataclass(frozen=True)
class Map:
    """Settled winding temperature of one setup, °C, over speed and grade.

    Attributes:
        kmh: Speeds, shape (speeds,).
        grade: Percent, up to the steepest held at each speed, shape (grades, speeds).
        winding_c: Likewise; infinite where nothing settles, NaN where not known.
        limit_c: Of the winding; infinite where not given.
        air_c: Of the air.
    """

    kmh: Array
    grade: Array
    winding_c: Array
    limit_c: float
    air_c: float


def climbs(compared: Comparison) -> list[tuple[Reading, Climb]] | None:
    """The shown setups on the goal's hill; None where that is still to be worked out."""
    goal, readings = compared.job.goals.hill, compared.shown
    if not _climbable(goal):
        return []
    found = known(_hill_kind(goal), [r.rig for r in readings])
    return None if found is None else list(zip(readings, found, strict=True))


def levels(compared: Comparison, view: View) -> list[tuple[Reading, tuple[Level, ...]]] | None:
    """The shown setups at their top speed, then at the first pinned speed; None as before."""
    readings = compared.shown
    found = known(_level_kind(view), [r.rig for r in readings])
    return None if found is None else list(zip(readings, found, strict=True))


def mapped(compared: Comparison, view: View) -> tuple[Reading, Map | None] | None:
    """The setup whose map is drawn, and the map if it is known; None where no setup is shown."""
    reading = chosen(compared, view)
    if reading is None:
        return None
    found = known("heat map", [reading.rig])
    return reading, None if found is None else found[0]


def chosen(compared: Comparison, view: View) -> Reading | None:
    """The setup picked for the map."""
    return choice.chosen(compared, view, NAME)


def work(compared: Comparison, view: View, _task: Task | None = None) -> None:
    """Work all of it out."""
    rigs, goal = [r.rig for r in compared.shown], compared.job.goals.hill
    if goal is not None and _climbable(goal):
        remembered_together(_hill_kind(goal), rigs, lambda some: _climb(some, goal))
    pinned = view.pinned_kmh[:1]
    remembered_together(_level_kind(view), rigs, lambda some: _level(some, pinned))
    reading = chosen(compared, view)
    if reading is not None:
        remembered_together("heat map", [reading.rig], lambda some: [_map(rig) for rig in some])


def worked_out(compared: Comparison, view: View) -> bool:
    """Whether nothing is left to be worked out."""
    drawn = mapped(compared, view)
    has_map = drawn is None or drawn[1] is not None
    return climbs(compared) is not None and levels(compared, view) is not None and has_map


def _climbable(goal: Hill | None) -> bool:
    return goal is not None and goal.speed_kmh > 0 and goal.length_m > 0


def _hill_kind(goal: Hill | None) -> str:
    return f"hill {goal.model_dump_json(exclude={'source', 'sources'}) if goal else ''}"


def _level_kind(view: View) -> str:
    return f"level {view.pinned_kmh[:1]}"


def _climb(rigs: Sequence[Rig], goal: Hill) -> list[Climb]:
    grade, speed = goal.grade_percent * PERCENT, goal.speed_kmh * KMH
    found = hill(rigs, grade, goal.length_m, speed)
    ends = found.longest[np.isfinite(found.longest)]
    far = max(float(ends.max(initial=0.0)) * 1.15, FURTHEST * goal.length_m)
    tracks = hill_tracks(rigs, grade, speed, far)
    return [
        Climb(
            float(found.longest[k]) / KILOMETRE,
            float(found.low[k]) / KILOMETRE,
            float(found.high[k]) / KILOMETRE,
            float(found.limit_s[k]) / MINUTE,
            bool(found.starts[k]),
            float(found.start_speed[k]) / KMH,
            tracks.way[k] / KILOMETRE,
            tracks.winding_c[k],
            tracks.case_c[k],
            sentence(found, k),
        )
        for k in range(len(rigs))
    ]


def _level(rigs: Sequence[Rig], pinned: tuple[float, ...]) -> list[tuple[Level, ...]]:
    top = np.nan_to_num(top_speed(rigs).speed)
    speeds = [top, *(np.full(len(rigs), kmh * KMH) for kmh in pinned)]
    asked = [(v, time_to_limit(rigs, v)) for v in speeds]
    return [
        tuple(
            Level(
                float(v[k]) / KMH,
                float(w.settled.speed[k]) / KMH,
                float(w.settled.winding_c[k]),
                float(w.winding_s[k]) / MINUTE,
            )
            for v, w in asked
        )
        for k in range(len(rigs))
    ]


def _map(rig: Rig) -> Map:
    flat = top_speed([rig.on_grade(0.0)]).speed[0] / KMH
    last = float(flat) if math.isfinite(flat) else 30.0
    kmh = np.linspace(min(2.0, last / 2), 0.998 * last, SPEEDS)
    # Grip is another matter: what the motor can pull is what heats it.
    most = steepest_grade([rig], kmh * KMH).motor[0]
    found = settled_to_steepest(rig, kmh * KMH, most, GRADES)
    return Map(kmh, found.grade / PERCENT, found.winding_c, found.limit_c, found.air_c)
