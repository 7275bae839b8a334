"""How many cells? One setup over packs of every count, and where more volts stop helping."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from dash import Dash, html

from curves import Rig
from curves.parts.labels import NEARLY_EMPTY
from curves.present.packs import pack_columns
from curves.present.table import Column as Swept
from curves.present.table import Table, picked
from curves.studies.common import Progress, quietly
from curves.studies.helping import marks, own_counts
from curves.studies.packs import PackSweep, pack_sweep
from curves.words.packs import for_goals, statements
from dashboard.answers.setups import Comparison, Reading, known, remembered
from dashboard.answers.study_options import CAPS, HOLDS, SPLITS, TARGETS
from dashboard.base.words import number, unbroken
from dashboard.figures import lines, uprights
from dashboard.state.session import View
from dashboard.widgets import choice, options
from dashboard.widgets import result_columns as results
from dashboard.widgets.figure_card import figure_card, results_table
from dashboard.widgets.follow import follow
from dashboard.widgets.page import Page
from dashboard.widgets.progress import WORKING, Task, fill, place
from dashboard.widgets.setups_table import Column

NAME = "cells"
KEY = "cells-sweep"
CHARGES = ((1.0, "full"), (0.5, "half"), (NEARLY_EMPTY, "nearly empty"))


class Sweeps(NamedTuple):
    """Top speeds at three charges, flat and on the hill; and full on the flat: times and heat."""

    speeds: PackSweep
    full: PackSweep


class Asked(NamedTuple):
    """What is held, what the caps do, and the grades, percent."""

    hold: str
    caps: str
    grades: tuple[float, ...]


def _asked(compared: Comparison, reading: Reading, view: View) -> Asked:
    hill = compared.job.goals.hill
    grades: tuple[float, ...] = (reading.rig.conditions.grade_percent,)
    if hill is not None:
        grades = (*grades, hill.grade_percent)
    hold = options.chosen(view, NAME, "hold", tuple(HOLDS))
    return Asked(hold, options.chosen(view, NAME, "caps", tuple(CAPS)), grades)


def _sweeps(reading: Reading, asked: Asked, progress: Progress = quietly) -> Sweeps:
    counts = own_counts(reading.rig.pack.series or 1)
    held: Any = {"hold": asked.hold, "caps": asked.caps}

    def make(rig: Rig) -> Sweeps:
        progress(0, 2)
        charges = tuple(c for c, _ in CHARGES)
        speeds = pack_sweep(rig, counts, charge=charges, grade_percent=asked.grades, **held)
        progress(1, 2)
        full = pack_sweep(rig, counts, charge=(1.0,), targets=TARGETS, heat=True, **held)
        return Sweeps(speeds, full)

    return remembered(_kind(asked), [reading.rig], make)[0]


def _kind(asked: Asked) -> str:
    return f"{NAME} {asked}"


def _looked_at(compared: Comparison, view: View) -> Reading | None:
    reading = choice.chosen(compared, view, NAME)
    return reading if reading is not None and reading.rig.pack.cell is not None else None


def _found(compared: Comparison, view: View) -> tuple[Reading, Sweeps] | None:
    """What is worked out, or None."""
    reading = _looked_at(compared, view)
    if reading is None:
        return None
    asked = _asked(compared, reading, view)
    if known(_kind(asked), [reading.rig]) is None:
        return None
    return reading, _sweeps(reading, asked)


def answer(compared: Comparison, view: View) -> Any:
    """The count at which more cells stop helping, and why."""
    reading = _looked_at(compared, view)
    if reading is None:
        return html.H1("Choose a setup whose pack is given by its cells.")
    found = _found(compared, view)
    if found is None:
        return html.H1(f"Trying other packs on “{reading.name}” {WORKING}")
    s = found[1].speeds
    first, *more = statements(s, view.units)
    held = {
        "strings": "The parallel strings stay",
        "cells": "About the number of cells stays",
        "energy": "The energy stays",
    }[s.hold]
    goals = for_goals(s, compared.job.goals, view.units)
    now = f"Now it is {reading.rig.pack.series} cells in series."
    follows = f"{held}; mass, resistance and cut-offs follow the count."
    said = (*map(_whole, more), *goals, now, follows)
    return [
        html.H1(unbroken(f"“{reading.name}”: {first[0].lower()}{first[1:]}.")),
        html.Ul([html.Li(unbroken(x)) for x in said], className="more"),
    ]


def _whole(clause: str) -> str:
    return f"{clause[0].upper()}{clause[1:]}."


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """Volts, top speeds and what holds them."""
    return [results.volts_column(), *results.study_columns(compared, view)]


def body(compared: Comparison, view: View) -> Any:
    """The sweep."""
    hold = options.chosen(view, NAME, "hold", tuple(HOLDS))
    caps = options.chosen(view, NAME, "caps", tuple(CAPS))
    card = figure_card(
        KEY,
        "Over cells in series",
        "Dotted: the pack there is, and where more cells stop helping or volts let go.",
        _draw(compared, view),
        "Top speed, currents, times and heat over the number of cells in series.",
        html.Div(
            [
                choice.choice(compared, NAME, choice.chosen(compared, view, NAME)),
                options.pick(NAME, "hold", "Kept", hold, tuple(HOLDS.items())),
                options.pick(NAME, "caps", "Cap and pack current", caps, tuple(CAPS.items())),
            ],
            className="pins",
        ),
    )
    return [place(NAME, view), card]


def _draw(compared: Comparison, view: View) -> dict[str, Any]:
    found, unit = _found(compared, view), view.units.name("km/h")
    if found is None:
        return lines.build([lines.Panel("Top speed", unit, 200, [])], "cells in series", 1, 800)
    (reading, (s, full)), units = found, view.units
    hill = compared.job.goals.hill

    def panel(title: str, name: str, values: Any, height: int = 130) -> lines.Panel:
        names = [name for _, name in CHARGES][: len(values)]
        drawn = [
            lines.Line(reading.slot, charge, s.series, y)
            for charge, y in zip(names, values, strict=True)
        ]
        return lines.Panel(title, name, height, drawn, zero=False)

    panels = [panel("Top speed", unit, units.speed(s.top_speed[:, 0]), 220)]
    if hill is not None:
        title = f"Speed on {number(hill.grade_percent)} %"
        panels.append(panel(title, unit, units.speed(s.top_speed[:, 1]), 160))
    for title, name, values in (
        ("Pack current at top speed", "A", s.pack_current[:, 0]),
        *((f"Time, {split}", "s", [x]) for split, x in zip(SPLITS, _times(full), strict=True)),
        ("Winding, settled at top speed", units.name("°C"), [_settled(full, view)]),
        ("Heat in the windings, the most on the way", "W", full.most_winding_loss[0]),
        ("Price", "", [full.price]),
        ("Charging, without its taper", "h", [full.charge_hours]),
    ):
        if np.isfinite(values).any():
            panels.append(panel(title, name, values))
    ends = float(s.series[0]), float(s.series[-1])
    figure = lines.build(panels, "cells in series", ends[1], view.width, ends[0])
    now = float(reading.rig.pack.series or 0)
    uprights.mark(figure, [(now, "now"), *marks(s.line())])
    return figure


def _times(full: PackSweep) -> Any:
    """Splits, a row each."""
    runs = full.runs
    assert runs is not None, "times are asked for"
    return np.concatenate((runs.speed_time, runs.distance_time), axis=1).T


def _settled(full: PackSweep, view: View) -> Any:
    known_ = np.where(np.isfinite(full.winding_c[0, 0]), full.winding_c[0, 0], np.nan)
    return view.units.shown(known_, "°C")


def _numbers(compared: Comparison, view: View) -> Table:
    found = _found(compared, view)
    if found is None:
        return Table(["Cells"], [], "Cells in series")
    reading, (s, full) = found
    swept = pack_columns(s)
    tops = (f"top_speed_kmh_{k}" for k in range(s.charge.size))
    columns = [
        *picked(swept, "series", "strings", "full_v", "pack_kg", "energy_wh"),
        *picked(swept, *tops, "limited_by", "pack_current_a"),
        *(Swept(name, name, t, "s") for name, t in zip(SPLITS, _times(full), strict=True)),
        Swept("winding_c", "Winding settled", full.winding_c[0, 0], "°C", 0),
        Swept("most_heat_w", "Most heat", full.most_winding_loss[0, 0], "W", 0),
        Swept("price", "Price", full.price, places=0),
        Swept("charging_h", "Charging", full.charge_hours, "h"),
    ]
    said = f"“{reading.name}” over cells in series; times and heat with a full pack"
    return results_table(columns, view.units, said)


def _done(compared: Comparison, view: View) -> bool:
    return _looked_at(compared, view) is None or _found(compared, view) is not None


def _work(compared: Comparison, view: View, task: Task) -> None:
    reading = _looked_at(compared, view)
    if reading is not None:
        _sweeps(reading, _asked(compared, reading, view), task.told)


def register(app: Dash) -> None:
    """The plot follows the job, the setup chosen and what is held."""
    choice.register(app, NAME)
    options.register(app, NAME)
    fill(app, NAME, _done, _work)
    follow(app, KEY, _draw, _numbers)


PAGE = Page("/cells", "How many cells?", answer, body, columns, register)
