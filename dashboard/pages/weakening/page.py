"""How much field weakening? One setup over its setting: speed, loss, heat, and what it risks."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from dash import Dash, html

from curves import Rig
from curves.parts.labels import charged
from curves.present.table import Table, picked
from curves.present.weakening import weakening_columns
from curves.setups.stack import stack
from curves.studies.cells import with_series
from curves.studies.helping import MOST_CELLS
from curves.studies.settings import SETTING, WORTH_KMH
from curves.studies.weakening import (
    Trade,
    WeakeningSweep,
    at_other_charge,
    trade,
    weakening_sweep,
)
from curves.words.weakening import statements
from dashboard.answers.setups import Comparison, Reading, known, remembered
from dashboard.base.words import unbroken, with_unit
from dashboard.figures import lines, uprights
from dashboard.pages.weakening import weakened
from dashboard.state.session import View
from dashboard.widgets import choice, options
from dashboard.widgets import result_columns as results
from dashboard.widgets.figure_card import figure_card, results_table
from dashboard.widgets.follow import follow
from dashboard.widgets.page import Page
from dashboard.widgets.progress import WORKING, Task, fill, place

NAME = "weakening"
KEY = "weakening-sweep"
TOOLS = "weakening-tools"
STEPS = 31
SHOWN = (
    "loss_w",
    "efficiency_percent",
    "wh_per_km",
    "winding_c",
    "drive_off_emf_cold_v",
    "limited_by",
)


class Asked(NamedTuple):
    """What an extra ampere should buy, km/h; speeds of rim force, km/h; cells to match, 0 none."""

    worth_kmh: float
    speeds_kmh: tuple[float, ...]
    cells: int


def _asked(compared: Comparison, reading: Reading, view: View) -> Asked:
    worth = options.entered(view, NAME, "worth", WORTH_KMH, 0.001, 10.0)
    cells = int(options.entered(view, NAME, "cells", _larger(compared, reading), 0, MOST_CELLS))
    has_cells = reading.rig.pack.cell is not None
    return Asked(worth, tuple(view.pinned_kmh), cells if has_cells else 0)


def _larger(compared: Comparison, reading: Reading) -> int:
    """The next larger pack on the page, or a few cells more."""
    own = reading.rig.pack.series or 0
    counts = [r.rig.pack.series or 0 for r in compared.readings if r.rig.pack.cell is not None]
    return min((n for n in counts if n > own), default=own + 3 if own else 0)


def _kinds(asked: Asked) -> tuple[str, str, str]:
    worth = asked.worth_kmh
    return (
        f"{NAME} {worth} {asked.speeds_kmh}",
        f"{NAME} there {worth}",
        f"{NAME} trade {asked.cells}",
    )


def _sweep(reading: Reading, asked: Asked) -> WeakeningSweep:
    """Settings from none to past the phase current, where nothing is left to gain."""

    def make(rig: Rig) -> WeakeningSweep:
        return weakening_sweep(
            rig, _amps(rig), worth_kmh=asked.worth_kmh, speeds_kmh=asked.speeds_kmh
        )

    return remembered(_kinds(asked)[0], [reading.rig], make)[0]


def _other(reading: Reading, asked: Asked) -> WeakeningSweep | None:
    """The same nearly empty, or full where that is what the setup is."""

    def make(rig: Rig) -> WeakeningSweep | None:
        other = at_other_charge(rig)
        if other is None:
            return None
        return weakening_sweep(other, _amps(rig), worth_kmh=asked.worth_kmh)

    return remembered(_kinds(asked)[1], [reading.rig], make)[0]


def _amps(rig: Rig) -> list[float]:
    most = float(lines.whole(rig.tune.phase_current_a))
    return [float(amps) for amps in np.linspace(0.0, most, STEPS)]


def _trade(reading: Reading, asked: Asked) -> Trade | None:
    """Its own cells with weakening against more cells without."""
    if not asked.cells:
        return None

    def make(rig: Rig) -> Trade:
        base = stack([rig])
        others = with_series(base, np.array([float(asked.cells)]))
        return trade(base.vary({SETTING: np.zeros(1)}), others)

    return remembered(_kinds(asked)[2], [reading.rig], make)[0]


def _ready(reading: Reading, asked: Asked) -> bool:
    kinds = _kinds(asked) if asked.cells else _kinds(asked)[:2]
    return all(known(kind, [reading.rig]) is not None for kind in kinds)


def _found(compared: Comparison, view: View) -> tuple[Reading, Asked, WeakeningSweep] | None:
    """What is worked out, or None."""
    reading = choice.chosen(compared, view, NAME)
    if reading is None:
        return None
    asked = _asked(compared, reading, view)
    return (reading, asked, _sweep(reading, asked)) if _ready(reading, asked) else None


def answer(compared: Comparison, view: View) -> Any:
    """The three settings, with their reasons, and what they stand for in volts."""
    reading = choice.chosen(compared, view, NAME)
    if reading is None:
        return html.H1("Show a setup to ask how much field weakening it wants.")
    found = _found(compared, view)
    if found is None:
        return html.H1(f"Trying field weakening on “{reading.name}” {WORKING}")
    reading, asked, sweep = found
    other = _other(reading, asked)
    first, *more = statements(sweep, view.units, other)
    traded = weakened.traded(_trade(reading, asked), asked.cells, view, reading)
    caution = (
        "Weakening past what the magnets stand, or a drive that goes off at speed, can harm motor, "
        "controller and pack: raise it in small steps, and watch the temperature."
    )
    return [
        html.H1(unbroken(f"“{reading.name}”: {first[0].lower()}{first[1:]}")),
        html.Ul(
            [html.Li(unbroken(x)) for x in (*more, *traded, caution)],
            className="more",
        ),
        html.Div(weakened.offer(reading, sweep, other, view), className="apart"),
    ]


def body(compared: Comparison, view: View) -> Any:
    """The sweep."""
    card = figure_card(
        KEY,
        "Over the setting",
        "Field-weakening current beyond most torque per ampere; everything at top speed.",
        _draw(compared, view),
        "Top speed, loss, consumption, winding temperature and back-EMF over field weakening.",
        html.Div(_tools(compared, view), id=TOOLS, className="pins"),
    )
    return [place(NAME, view), card]


def _tools(compared: Comparison, view: View) -> list[Any]:
    reading = choice.chosen(compared, view, NAME)
    tools = [choice.choice(compared, NAME, reading)]
    if reading is None:
        return tools
    asked = _asked(compared, reading, view)
    tools.append(
        options.enter(NAME, "worth", "An ampere should buy", asked.worth_kmh, "km/h", view.units,
                      least=0.001, most=10.0, step=0.05)
    )  # fmt: skip
    if asked.cells:
        tools.append(
            options.enter(NAME, "cells", "Match cells in series", asked.cells,
                          least=1, most=MOST_CELLS, allowDecimal=False)
        )  # fmt: skip
    return tools


def _draw(compared: Comparison, view: View) -> dict[str, Any]:
    found = _found(compared, view)
    if found is None:
        empty = [lines.Panel("Top speed", view.speed, 200, [])]
        return lines.build(empty, "field-weakening current, A", 100.0, view.width)
    (reading, asked, s), units = found, view.units

    def panel(title: str, unit: str, y: Any, height: int = 130, **more: Any) -> lines.Panel:
        line = lines.Line(reading.slot, reading.name, s.amps, units.shown(y, unit))
        return lines.Panel(title, units.name(unit), height, [line], **more)

    sweeps = _charges(reading, asked, s)
    fast = [
        lines.Line(reading.slot, name or reading.name, s.amps, units.speed(x.top.speed))
        for name, x in sweeps
    ]
    panels = [
        lines.Panel("Top speed", view.speed, 200, fast, zero=False),
        panel("Loss", "W", s.running.loss),
        panel("Efficiency", "%", 100 * s.running.efficiency, zero=False),
        panel("Taken from the cells", "Wh/km", s.running.wh_per_km),
        *(
            panel(f"Rim force at {with_unit(v, 'km/h', units)}", "N", s.rim_force[:, k], zero=False)
            for k, v in enumerate(asked.speeds_kmh)
            if np.isfinite(s.rim_force[:, k]).any()
        ),
    ]
    if np.isfinite(s.winding_c).any():
        limit = reading.rig.motor.winding_limit_c
        levels = (
            () if limit is None else (lines.Level(units.shown(limit, "°C"), "the winding’s limit"),)
        )
        panels.append(panel("Winding, settled", "°C", s.winding_c, levels=levels))
    panels.append(
        panel(
            "Back-EMF with drive off, coldest magnets",
            "V",
            s.top.drive_off_emf_cold_v,
            levels=_volts(reading),
        )
    )
    unit = "A rms" if s.basis == "rms" else "A"
    across = f"field-weakening current, {unit}"
    figure = lines.build(panels, across, float(s.amps[-1]), view.width)
    # With a typical inductance no single setting may be read off.
    if s.spread is None:
        values = [
            (s.answers.fastest[0], "fastest"),
            (s.answers.diminishing[0], "buys less from here"),
            (s.answers.within[0], "within ratings"),
            *((x.answers.diminishing[0], f"buys less, {name}") for name, x in sweeps[1:]),
        ]
        uprights.mark(figure, [(float(value), name) for value, name in values])
    return figure


def _volts(reading: Reading) -> list[lines.Level]:
    full = reading.rig.pack.full_v() or reading.rig.pack.open_circuit(1.0)
    levels = [lines.Level(full, "pack, charged full")]
    rated = reading.rig.controller.max_input_v
    if rated is not None:
        levels.append(lines.Level(rated, "controller’s rating"))
    return levels


def _numbers(compared: Comparison, view: View) -> Table:
    if (found := _found(compared, view)) is None:
        return Table(["Setting, A"], [], "Field weakening")
    reading, asked, s = found
    swept = weakening_columns(s)
    tops = [
        column._replace(head=f"{column.head} {name}".strip())
        for name, x in _charges(reading, asked, s)
        for column in picked(weakening_columns(x), "top_speed_kmh", "ampere_buys_kmh")
    ]
    columns = [swept["amps"], *tops, *picked(swept, *SHOWN)]
    return results_table(columns, view.units, f"“{reading.name}” over its field weakening")


def _charges(reading: Reading, asked: Asked, s: WeakeningSweep) -> list[tuple[str, WeakeningSweep]]:
    """The sweep at both charges with their names; a source pack has neither."""
    other = _other(reading, asked)
    if other is None:
        return [("", s)]
    return [(charged(x.charge), x) for x in (s, other)]


def _done(compared: Comparison, view: View) -> bool:
    return choice.chosen(compared, view, NAME) is None or _found(compared, view) is not None


def _work(compared: Comparison, view: View, task: Task) -> None:
    reading = choice.chosen(compared, view, NAME)
    if reading is not None:
        asked = _asked(compared, reading, view)
        for k, step in enumerate((_sweep, _other, _trade)):
            task.told(k, 3)
            step(reading, asked)


def register(app: Dash) -> None:
    """The plot follows the job and the setup chosen."""
    choice.register(app, NAME)
    options.register(app, NAME)
    options.redraw(app, TOOLS, _tools)
    weakened.register(app)
    fill(app, NAME, _done, _work)
    follow(app, KEY, _draw, _numbers)


PAGE = Page("/weakening", "How much weakening?", answer, body, results.study_columns, register)
