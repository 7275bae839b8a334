"""How many cells? One setup over packs of every count, and where more volts stop helping."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from dash import Dash, html

from curves.studies.packs import PackSweep, pack_sweep, sentence
from curves.units import KMH
from dashboard.callbacks.cards import follow
from dashboard.components import choice
from dashboard.components import result_columns as results
from dashboard.components.figure_card import figure_card
from dashboard.components.setups_table import Column
from dashboard.figures import lines
from dashboard.pages.registry import Page
from dashboard.results import Comparison, Reading, remembered
from dashboard.state import View
from dashboard.text import number, speed, speed_factor, unbroken
from dashboard.waiting import WORKING, Task, fill, known, place

NAME = "cells"
KEY = "cells-sweep"
CHARGES = ((1.0, "full"), (0.5, "half"), (0.1, "nearly empty"))


def _sweep(compared: Comparison, reading: Reading) -> PackSweep:
    own = reading.rig.pack.series or 13
    counts = range(max(4, own // 2), 2 * own + 1)
    hill = compared.job.goals.hill
    grades = (reading.rig.conditions.grade_percent,)
    if hill is not None:
        grades = (*grades, hill.grade_percent)
    charges = tuple(c for c, _ in CHARGES)
    return remembered(
        _kind(compared),
        [reading.rig],
        lambda rig: pack_sweep(rig, counts, charge=charges, grade_percent=grades),
    )[0]


def _kind(compared: Comparison) -> str:
    hill = compared.job.goals.hill
    return f"{NAME} {None if hill is None else hill.grade_percent}"


def _ready(compared: Comparison, reading: Reading) -> bool:
    return known(_kind(compared), [reading.rig]) is not None


def _asked(compared: Comparison, view: View) -> Reading | None:
    reading = choice.chosen(compared, view, NAME)
    return reading if reading is not None and reading.rig.pack.cell is not None else None


def answer(compared: Comparison, view: View) -> Any:
    """The count at which more cells stop helping, and why."""
    reading = _asked(compared, view)
    if reading is None:
        return html.H1("Choose a setup whose pack is given by its cells.")
    if not _ready(compared, reading):
        return html.H1(f"Trying other packs on “{reading.name}” {WORKING}")
    first, *more = sentence(_sweep(compared, reading), view.units).split("; ")
    held = "The parallel strings stay; mass and resistance follow the count."
    return [
        html.H1(unbroken(f"“{reading.name}”: {first[0].lower()}{first[1:].rstrip('.')}.")),
        html.Ul(
            [html.Li(unbroken(f"{x[0].upper()}{x[1:].rstrip('.')}.")) for x in (*more, held)],
            className="more",
        ),
    ]


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """Volts, top speeds and what holds them."""
    return [
        results.volts_column(),
        *results.speed_columns(compared, view),
        results.limit_column(view),
        results.care_column(compared, view),
    ]


def body(compared: Comparison, view: View) -> Any:
    """The sweep."""
    card = figure_card(
        KEY,
        "Over cells in series",
        "Everything else stays as it is in the setup.",
        _draw(compared, view),
        "Top speed and currents over the number of cells in series.",
        html.Div(choice.choice(compared, view, NAME), className="pins"),
    )
    return [place(NAME, view), card]


def _draw(compared: Comparison, view: View) -> dict[str, Any]:
    reading = _asked(compared, view)
    if reading is None:
        return lines.build(
            [lines.Panel("Top speed", view.speed, 200, [])], "cells in series", 1, 800
        )
    s = _sweep(compared, reading)
    factor = speed_factor(view.speed) / KMH

    def panel(title: str, unit: str, values: Any, height: int = 130) -> lines.Panel:
        drawn = [
            lines.Line(reading.slot, name, s.series, values[c])
            for c, (_, name) in enumerate(CHARGES)
        ]
        return lines.Panel(title, unit, height, drawn, zero=False)

    panels = [panel("Top speed", view.speed, s.top_speed[:, 0] * factor, 220)]
    hill = compared.job.goals.hill
    if hill is not None:
        title = f"Speed on {number(hill.grade_percent)} %"
        panels.append(panel(title, view.speed, s.top_speed[:, 1] * factor, 160))
    panels.append(panel("Pack current at top speed", "A", s.pack_current[:, 0]))
    return lines.build(
        panels, "cells in series", float(s.series[-1]), view.width, float(s.series[0])
    )


def _numbers(compared: Comparison, view: View) -> tuple[list[str], list[list[str]], str]:
    reading = _asked(compared, view)
    head = [
        "Cells",
        "Full, V",
        f"Pack, {view.units.name('kg')}",
        *(f"Top speed {name}, {view.speed}" for _, name in CHARGES),
        "Held by, full",
    ]
    if reading is None or not _ready(compared, reading):
        return head, [], "Cells in series"
    s = _sweep(compared, reading)
    rows = [
        [
            number(float(n)),
            number(float(s.full_v[k]), 1),
            number(view.units.shown(float(s.mass[k]), "kg"), 1),
            *(speed(float(s.top_speed[c, 0, k]) / KMH, view.speed) for c in range(len(CHARGES))),
            ", ".join(s.limited_by[0][0][k]),
        ]
        for k, n in enumerate(np.asarray(s.series))
    ]
    return head, rows, f"“{reading.name}” over cells in series"


def _done(compared: Comparison, view: View) -> bool:
    reading = _asked(compared, view)
    return reading is None or _ready(compared, reading)


def _work(compared: Comparison, view: View, _task: Task) -> None:
    reading = _asked(compared, view)
    if reading is not None:
        _sweep(compared, reading)


def register(app: Dash) -> None:
    """The plot follows the job and the setup chosen."""
    choice.register(app, NAME)
    fill(app, NAME, _done, _work)
    follow(app, KEY, _draw, _numbers)


PAGE = Page("/cells", "How many cells?", answer, body, columns, register)
