"""Which gearing? One setup over its reduction or its wheel: the fastest, and the quickest."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from dash import Dash, html

from curves.present.table import Table
from curves.studies.common import Progress, quietly
from curves.studies.gearing import Best, Changed, GearSweep, gear_sweep
from curves.units import KMH, PERCENT
from curves.words.gearing import statements
from dashboard.answers.setups import Comparison, Reading, known, remembered
from dashboard.answers.study_options import SPLITS, TARGETS
from dashboard.base.words import NONE, listed, number, speed, speed_factor, unbroken
from dashboard.figures import lines, uprights
from dashboard.state.session import View
from dashboard.widgets import choice, options
from dashboard.widgets import result_columns as results
from dashboard.widgets.figure_card import figure_card
from dashboard.widgets.follow import follow
from dashboard.widgets.page import Page
from dashboard.widgets.progress import WORKING, Task, fill, place

NAME = "gearing"
KEY = "gearing-sweep"
STEPS = 33
WIDEST = 2.0
"""The range goes from a part of what there is now to as many times it."""
CHANGED: dict[Changed, str] = {"reduction": "Reduction, motor to wheel", "wheel": "Wheel, roll-out"}


def _changed(view: View) -> Changed:
    kept = options.chosen(view, NAME, "changed", tuple(CHANGED))
    return "wheel" if kept == "wheel" else "reduction"


def _kind(view: View) -> str:
    return f"{NAME} {_changed(view)}"


def _sweep(reading: Reading, view: View, progress: Progress = quietly) -> GearSweep:
    changed = _changed(view)

    def make(rig: Any) -> GearSweep:
        widest = WIDEST if changed == "reduction" else math.sqrt(WIDEST)
        now = _present(rig, changed)
        values = np.unique(np.append(np.geomspace(now / widest, now * widest, STEPS), now))
        return gear_sweep(rig, values.tolist(), changed=changed, targets=TARGETS, progress=progress)

    return remembered(_kind(view), [reading.rig], make)[0]


def _present(rig: Any, changed: Changed) -> float:
    if changed == "wheel":
        return float(rig.bike.roll_out_m)
    return float(rig.motor.gear_ratio * min(rig.bike.ratios))


def _ready(reading: Reading, view: View) -> bool:
    return known(_kind(view), [reading.rig]) is not None


def answer(compared: Comparison, view: View) -> Any:
    """The fastest gearing, how wide is as good, and the quickest to each target."""
    reading = choice.chosen(compared, view, NAME)
    if reading is None:
        return html.H1("Show a setup to ask for its gearing.")
    if not _ready(reading, view):
        return html.H1(f"Trying other gearings on “{reading.name}” {WORKING}")
    first, *more = statements(_sweep(reading, view), view.units)
    held = (
        "Everything else stays, steps between several gears too. A taller gearing climbs less: see "
        "the steepest grade below."
    )
    return [
        html.H1(unbroken(f"“{reading.name}”: {first[0].lower()}{first[1:]}")),
        html.Ul([html.Li(unbroken(x)) for x in (*more, held)], className="more"),
    ]


def body(compared: Comparison, view: View) -> Any:
    """The sweep."""
    card = figure_card(
        KEY,
        "Over the gearing",
        "Dotted: what the setup has now, and the fastest.",
        _draw(compared, view),
        "Top speed, splits, steepest grade and loss over reduction or wheel.",
        html.Div(
            [
                choice.choice(compared, NAME, choice.chosen(compared, view, NAME)),
                options.pick(
                    NAME, "changed", "What changes", _changed(view), tuple(CHANGED.items())
                ),
            ],
            className="pins",
        ),
    )
    return [place(NAME, view), card]


def _draw(compared: Comparison, view: View) -> dict[str, Any]:
    reading = choice.chosen(compared, view, NAME)
    across = "rotor turns a wheel turn" if _changed(view) == "reduction" else "roll-out, m"
    if reading is None or not _ready(reading, view):
        return lines.build([lines.Panel("Top speed", view.speed, 200, [])], across, 1, view.width)
    s = _sweep(reading, view)

    def panel(
        title: str, unit: str, values: Any, height: int = 130, best: Best | None = None
    ) -> lines.Panel:
        x, y = (s.value, values) if best is None else _through(best, s.value, values)
        drawn = [lines.Line(reading.slot, reading.name, x, y)]
        return lines.Panel(title, unit, height, drawn, zero=False)

    kmh = speed_factor(view.speed) / KMH
    fastest = replace(s.fastest, result=s.fastest.result * kmh)
    splits = np.column_stack((s.speed_time, s.distance_time)).T
    climb = speed(s.climb_speed / KMH, view.speed, 0)
    figure = lines.build(
        [
            panel("Top speed", view.speed, s.top_speed * kmh, 200, fastest),
            *(panel(f"Time, {name}", "s", x, best=best)
              for name, x, best in zip(SPLITS, splits, s.quickest, strict=True)
              if np.isfinite(x).any()),
            panel(f"Steepest grade at {climb} {view.speed}", "%", s.grade / PERCENT),
            panel("Loss at top speed", "W", s.running.loss),
        ],
        across,
        float(s.value[-1]),
        view.width,
        float(s.value[0]),
    )  # fmt: skip
    uprights.mark(figure, [(s.present, "now"), (s.fastest.value, "fastest")])
    return figure


def _through(best: Best, x: Any, y: Any) -> tuple[Any, Any]:
    """A line that passes through the best that was found between its points."""
    if not np.isfinite(best.value) or best.value in x:
        return x, y
    at = int(np.searchsorted(x, best.value))
    return np.insert(x, at, best.value), np.insert(y, at, best.result)


def _numbers(compared: Comparison, view: View) -> Table:
    reading = choice.chosen(compared, view, NAME)
    head = [
        "Reduction" if _changed(view) == "reduction" else "Roll-out, m",
        f"Top speed, {view.speed}",
        "Held by",
        *(f"{name}, s" for name in SPLITS),
        "Steepest grade, %",
        "Loss, W",
    ]
    if reading is None or not _ready(reading, view):
        return Table(head, [], "Gearing")
    s = _sweep(reading, view)
    splits = np.column_stack((s.speed_time, s.distance_time))
    rows = [
        [
            number(float(x), 3),
            speed(float(s.top_speed[k]) / KMH, view.speed),
            listed(s.limited_by[k]) or NONE,
            *(number(float(t), 1) for t in splits[k]),
            number(float(s.grade[k]) / PERCENT, 1),
            number(float(s.running.loss[k])),
        ]
        for k, x in enumerate(s.value)
    ]
    return Table(head, rows, f"“{reading.name}” over its gearing")


def _done(compared: Comparison, view: View) -> bool:
    reading = choice.chosen(compared, view, NAME)
    return reading is None or _ready(reading, view)


def _work(compared: Comparison, view: View, task: Task) -> None:
    reading = choice.chosen(compared, view, NAME)
    if reading is not None:
        _sweep(reading, view, task.told)


def register(app: Dash) -> None:
    """The plot follows the job, the setup chosen and what changes."""
    choice.register(app, NAME)
    options.register(app, NAME)
    fill(app, NAME, _done, _work)
    follow(app, KEY, _draw, _numbers)


PAGE = Page("/gearing", "Which gearing?", answer, body, results.study_columns, register)
