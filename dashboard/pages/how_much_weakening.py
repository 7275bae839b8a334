"""How much field weakening? One setup over its setting: speed, loss, heat, and what it risks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from dash import Dash, html

from curves.stack import stack
from curves.studies.cells import with_series
from curves.studies.weakening import (
    SETTING,
    Trade,
    WeakeningSweep,
    sentence,
    trade,
    weakening_sweep,
)
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
from dashboard.text import number, speed, unbroken, with_unit
from dashboard.waiting import WORKING, Task, fill, known, place

NAME = "weakening"
KEY = "weakening-sweep"
STEPS = 31


def _sweep(reading: Reading) -> WeakeningSweep:
    """Settings from none to past the phase current, where nothing is left to gain."""
    most = float(lines.whole(reading.rig.tune.phase_current_a))
    amps = np.linspace(0.0, most, STEPS)
    return remembered(NAME, [reading.rig], lambda rig: weakening_sweep(rig, amps))[0]


def _ready(reading: Reading) -> bool:
    return known(NAME, [reading.rig]) is not None


def answer(compared: Comparison, view: View) -> Any:
    """The three settings, with their reasons, and what they stand for in volts."""
    reading = choice.chosen(compared, view, NAME)
    if reading is None:
        return html.H1("Show a setup to ask how much field weakening it wants.")
    if not _ready(reading):
        return html.H1(f"Trying field weakening on “{reading.name}” {WORKING}")
    first, *more = _sentences(sentence(_sweep(reading), view.units))
    traded = _traded(compared, reading, view)
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
    ]


def _sentences(text: str) -> list[str]:
    return [f"{x.rstrip('.')}." for x in text.split(". ")]


def _traded(compared: Comparison, reading: Reading, view: View) -> list[str]:
    """What weakening stands for in cells: against the next larger pack on the page."""
    own = reading.rig.pack.series
    counts = {r.rig.pack.series for r in compared.readings if r.rig.pack.cell is not None}
    larger = sorted(n for n in counts if n is not None and own is not None and n > own)
    if own is None or not larger:
        return []
    return [_said(_trade(reading, n), own, n, view, reading) for n in larger[:1]]


def _trade(reading: Reading, cells: int) -> Trade:
    def make(rig: Any) -> Trade:
        base = stack([rig])
        return trade(base.vary({SETTING: np.zeros(1)}), with_series(base, np.array([float(cells)])))

    return remembered(f"{NAME} trade {cells}", [reading.rig], make)[0]


def _said(t: Trade, own: int, cells: int, view: View, reading: Reading) -> str:
    amps, top = float(t.amps[0]), float(t.speed[0]) / KMH
    if not np.isfinite(amps + top):
        return ""
    unit = "A rms" if reading.rig.tune.current_basis == "rms" else "A"
    heat, units = float(t.winding_k[0]), view.units
    hotter = f"{number(units.change(heat, '°C'))} {units.name('°C')} in the winding"
    warm = f", {hotter}" if np.isfinite(heat) else ""
    more = with_unit(float(t.wh_per_km[0]), "Wh/km", units, 1)
    verb = "match" if top >= float(t.target[0]) / KMH - 0.05 else "come nearest to"
    return (
        f"{own} cells with {number(amps)} {unit} of weakening {verb} {cells} cells, up to "
        f"{speed(top, view.speed)} {view.speed}; that costs {number(float(t.loss[0]))} W{warm} "
        f"and {more} more there."
    )


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """Top speeds and what holds them."""
    return [
        *results.speed_columns(compared, view),
        results.limit_column(view),
        results.care_column(compared, view),
    ]


def body(compared: Comparison, view: View) -> Any:
    """The sweep."""
    card = figure_card(
        KEY,
        "Over the setting",
        "Field-weakening current beyond most torque per ampere; everything at top speed.",
        _draw(compared, view),
        "Top speed, loss, consumption, winding temperature and back-EMF over field weakening.",
        html.Div(choice.choice(compared, view, NAME), className="pins"),
    )
    return [place(NAME, view), card]


def _draw(compared: Comparison, view: View) -> dict[str, Any]:
    reading = choice.chosen(compared, view, NAME)
    if reading is None or not _ready(reading):
        empty = [lines.Panel("Top speed", view.speed, 200, [])]
        return lines.build(empty, "field-weakening current, A", 100.0, view.width)
    s, units = _sweep(reading), view.units

    def panel(title: str, unit: str, y: Any, height: int = 130, **more: Any) -> lines.Panel:
        line = lines.Line(reading.slot, reading.name, s.amps, units.shown(y, unit))
        return lines.Panel(title, units.name(unit), height, [line], **more)

    panels = [
        panel("Top speed", "km/h", s.top.speed / KMH, 200, zero=False),
        panel("Loss", "W", s.running.loss),
        panel("Taken from the cells", "Wh/km", s.running.wh_per_km),
    ]
    if np.isfinite(s.winding_c).any():
        limit = reading.rig.motor.winding_limit_c
        levels = (
            () if limit is None else (lines.Level(units.shown(limit, "°C"), "the winding’s limit"),)
        )
        panels.append(panel("Winding, settled", "°C", s.winding_c, levels=levels))
    panels.append(
        panel("Back-EMF with drive off, coldest magnets", "V", s.cold_emf_v, levels=_volts(reading))
    )
    unit = "A rms" if s.basis == "rms" else "A"
    return lines.build(panels, f"field-weakening current, {unit}", float(s.amps[-1]), view.width)


def _volts(reading: Reading) -> list[lines.Level]:
    full = reading.rig.pack.full_v() or reading.rig.pack.open_circuit(1.0)
    levels = [lines.Level(full, "pack, charged full")]
    rated = reading.rig.controller.max_input_v
    if rated is not None:
        levels.append(lines.Level(rated, "controller’s rating"))
    return levels


def _numbers(compared: Comparison, view: View) -> tuple[list[str], list[list[str]], str]:
    reading, units = choice.chosen(compared, view, NAME), view.units
    head = [
        "Setting, A",
        f"Top speed, {view.speed}",
        "Loss, W",
        "Efficiency, %",
        units.name("Wh/km"),
        f"Winding, {units.name('°C')}",
        "Back-EMF, V",
        "Held by",
    ]
    if reading is None or not _ready(reading):
        return head, [], "Field weakening"
    s = _sweep(reading)
    rows = [
        [
            number(float(s.amps[k]), 1),
            speed(float(s.top.speed[k]) / KMH, view.speed),
            number(float(s.running.loss[k])),
            number(100 * float(s.running.efficiency[k]), 1),
            number(units.shown(float(s.running.wh_per_km[k]), "Wh/km"), 1),
            number(units.shown(float(s.winding_c[k]), "°C")),
            number(float(s.cold_emf_v[k]), 1),
            ", ".join(s.top.limited_by[k]),
        ]
        for k in range(s.amps.size)
    ]
    return head, rows, f"“{reading.name}” over its field weakening"


def _done(compared: Comparison, view: View) -> bool:
    reading = choice.chosen(compared, view, NAME)
    return reading is None or _ready(reading)


def _work(compared: Comparison, view: View, _task: Task) -> None:
    reading = choice.chosen(compared, view, NAME)
    if reading is not None:
        _sweep(reading)
        _traded(compared, reading, view)


def register(app: Dash) -> None:
    """The plot follows the job and the setup chosen."""
    choice.register(app, NAME)
    fill(app, NAME, _done, _work)
    follow(app, KEY, _draw, _numbers)


PAGE = Page("/weakening", "How much weakening?", answer, body, columns, register)
