"""Runs of all setups laid over each other: over time and over the way, with their numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from curves.present.table import Table
from dashboard.answers.setups import Reading
from dashboard.base.words import NONE, number, plot_safe, speed, speed_factor
from dashboard.figures import lines
from dashboard.figures.spec import Spec
from dashboard.pages.runs import figure_holds as holds
from dashboard.pages.runs.study import Run
from dashboard.state.session import View

QUARTER_MILE_M = 402.336
MARKED_M = (18.288, 50.0, 100.0, 150.0, 201.168, 250.0, 300.0, 350.0, QUARTER_MILE_M)
"""Places of the table: 60 ft, the eighth and the quarter mile, and even metres between."""
ALL_BUT = 0.985
"""Share of its fastest at which a run has told all there is to see."""

Shown = Sequence[tuple[Reading, Run]]


def last_time(runs: Shown) -> float:
    """Where the axis of time ends, s."""
    able = [run for _, run in runs if run.time.size]
    ends = [float(run.time[np.argmax(run.kmh >= ALL_BUT * run.kmh.max())]) for run in able]
    return lines.whole(1.1 * max(ends, default=10.0))


def over_time(runs: Shown, view: View) -> Spec:
    """Speed, way and force over time."""
    factor, last = speed_factor(view.speed), last_time(runs)
    able = [(r, run, run.time <= last) for r, run in runs if run.time.size]

    def each(pick: Any, *, rest: float | None = 0.0) -> list[lines.Line]:
        made = []
        for r, run, keep in able:
            x, y = run.time[keep], np.asarray(pick(run))[keep]
            if rest is not None:
                x, y = np.append(0.0, x), np.append(rest, y)
            made.append(lines.Line(r.slot, r.name, x, y))
        return made

    panels = [
        lines.Panel("Speed", view.speed, 260, each(lambda run: run.kmh * factor)),
        lines.Panel("Way", "m", 150, each(lambda run: run.metres)),
        lines.Panel("Force at the rim", "N", 190, each(lambda run: run.force, rest=None)),
    ]
    return lines.build(panels, "time, s", last, view.width)


def over_way(runs: Shown, against: Reading | None, view: View) -> Spec:
    """Speed over the way, and how much later each comes by than one of them.

    Args:
        runs: The setups and their runs.
        against: The setup that the others are held against; None for the first to come by.
        view: How they are looked at.
    """
    factor, metres = speed_factor(view.speed), np.linspace(2.0, QUARTER_MILE_M, 120)
    able = [(r, run) for r, run in runs if run.time.size]
    times = {r.slot: np.interp(metres, run.metres, run.time, right=np.nan) for r, run in able}
    chosen = times.get(against.slot) if against is not None else None
    base = np.min([*times.values(), np.full(metres.size, np.inf)], axis=0)
    told = "Behind the first"
    if chosen is not None and against is not None:
        base, told = chosen, f"Behind “{plot_safe(against.name, 24)}”"
    fast = [
        lines.Line(r.slot, r.name, metres, np.interp(metres, run.metres, run.kmh * factor))
        for r, run in able
    ]
    behind = [lines.Line(r.slot, r.name, metres, times[r.slot] - base) for r, _ in able]
    panels = [lines.Panel("Speed", view.speed, 220, fast)]
    if len(able) > 1:
        panels.append(lines.Panel(told, "s", 150, behind))
    return lines.build(panels, "distance, m", QUARTER_MILE_M, view.width)


def holding_back(runs: Shown, view: View) -> Spec:
    """What holds the force of each along its run."""
    rows = [holds.Row(r.slot, r.name, run) for r, run in runs]
    return holds.build(rows, last_time(runs), view.width)


def numbers_over_time(runs: Shown, view: View) -> Table:
    """Speeds at even times."""
    head = ["Time, s", *(r.name for r, _ in runs)]
    rows = [
        [number(float(t), 1), *(_speed_at(float(t), run, view) for _, run in runs)]
        for t in np.linspace(0.0, last_time(runs), 13)[1:]
    ]
    return Table(head, rows, f"Speed, {view.speed}")


def _speed_at(t: float, run: Run, view: View) -> str:
    if not run.time.size:
        return NONE
    return speed(float(np.interp(t, run.time, run.kmh)), view.speed)


def numbers_over_way(runs: Shown) -> Table:
    """Times at marked places."""
    head = ["Distance, m", *(r.name for r, _ in runs)]
    rows = [[number(x, 0), *(_time_at(x, run) for _, run in runs)] for x in MARKED_M]
    return Table(head, rows, "Time from the start, s")


def _time_at(metres: float, run: Run) -> str:
    if not run.time.size:
        return NONE
    return number(float(np.interp(metres, run.metres, run.time, right=np.nan)), 2)


def numbers_holding_back(runs: Shown) -> Table:
    """Every stretch with the same words."""
    last = last_time(runs)
    rows = [
        [r.name, number(s.start, 1), number(s.end, 1), holds.told(s.words)]
        for r, run in runs
        for s in holds.stretches(run, last)
    ]
    return Table(
        ["Setup", "From, s", "To, s", "Held by"], rows, "What holds the force along the run"
    )
