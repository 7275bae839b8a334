"""Which pack? The answer, what every setup comes to, and force and power over road speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from dash import Dash, Input, Output, Patch, State, dcc, html, no_update

from dashboard import ids
from dashboard.components.figure_card import figure_card, numbers_table
from dashboard.components.marks import soft
from dashboard.components.setups_table import Column
from dashboard.figures import panels
from dashboard.pages.registry import Page
from dashboard.results import (
    Comparison,
    Pinned,
    Reading,
    pinned_of,
    road_force,
    speeds_of,
)
from dashboard.state import View
from dashboard.text import NONE, listed, number, signed, speed, speed_factor

KEY = "panels"
DRAWN = {"type": "drawn", "key": KEY}


def answer(compared: Comparison, view: View) -> Any:
    """The sentence that leads the page."""
    best = max(compared.shown, key=lambda r: np.nan_to_num(r.curve.top), default=None)
    if best is None:
        return html.H1("No setup is shown.")
    return html.H1(f"{best.name} is fastest: {speed(best.curve.top, view.speed)} {view.speed}.")


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """What the table says of every setup."""
    hill = compared.job.goals.hill
    grade = None if hill is None else hill.grade_percent
    found = dict(
        zip(
            [r.slot for r in compared.readings],
            speeds_of([r.rig for r in compared.readings], grade),
            strict=True,
        )
    )
    unit = view.speed

    def of(pick: Any) -> Any:
        def cell(r: Reading, against: Reading | None) -> Any:
            other = None if against is None else pick(found[against.slot])
            return speed_cell(pick(found[r.slot]), other, unit)

        return cell

    result = [
        Column("volts", "Pack volts", "Open-circuit: full, and at half charge", _volts),
        Column("full", f"Top speed full, {unit}", "With a full pack", of(lambda s: s.full)),
        Column(
            "empty",
            f"Nearly empty, {unit}",
            "Top speed with a tenth of the charge left",
            of(lambda s: s.nearly_empty),
        ),
    ]
    if hill is not None:
        result.append(
            Column(
                "hill",
                f"On {number(hill.grade_percent)} %, {unit}",
                "Speed held on the goal's hill",
                of(lambda s: s.hill),
            )
        )
    result.append(Column("limit", "What holds it", "What limits at top speed", _holds, "words"))
    return [*result, *_pinned_columns(compared, view)]


def speed_cell(kmh: float | None, against: float | None, unit: str) -> Any:
    """A speed and its difference to the setup compared to."""
    if kmh is None or not math.isfinite(kmh):
        return soft("cannot start")
    parts: list[Any] = [html.Span(speed(kmh, unit), className="figure")]
    if against is not None and math.isfinite(against):
        parts.append(html.Span(signed((kmh - against) * speed_factor(unit), 1), className="change"))
    return parts


def _volts(r: Reading, against: Reading | None) -> Any:
    full, half = r.rig.pack.open_circuit(1.0), r.rig.pack.open_circuit(0.5)
    parts = [html.Span(number(full, 1), className="figure"), soft(f"{number(half, 0)} nominal")]
    if against is not None:
        parts.append(
            html.Span(signed(full - against.rig.pack.open_circuit(1.0), 1), className="change")
        )
    return parts


def _holds(r: Reading, against: Reading | None) -> Any:
    del against
    return [html.Span(listed(r.curve.top_limits) or "cannot start")]


def _pinned_columns(compared: Comparison, view: View) -> list[Column]:
    rows = pinned_of([r.rig for r in compared.readings], view.pinned_kmh)
    found = {r.slot: row for r, row in zip(compared.readings, rows, strict=True)}

    def at(place: int) -> Any:
        def cell(r: Reading, against: Reading | None) -> Any:
            other = None if against is None else found[against.slot][place]
            return _pinned(found[r.slot][place], other)

        return cell

    return [
        Column(
            f"pin-{kmh:g}",
            f"At {speed(kmh, view.speed, 0)} {view.speed}, N",
            "Rim force and what limits it",
            at(place),
            "pinned",
        )
        for place, kmh in enumerate(view.pinned_kmh)
    ]


def _pinned(there: Pinned, against: Pinned | None) -> Any:
    if not math.isfinite(there.force):
        return soft("not driven")
    parts: list[Any] = [html.Span(number(there.force), className="figure")]
    if against is not None and math.isfinite(against.force):
        parts.append(html.Span(signed(there.force - against.force), className="change"))
    return [*parts, soft(listed(there.limits))]


def body(compared: Comparison, view: View) -> Any:
    """The plots."""
    frame = _frame(compared, view)
    roads = roads_of(compared, view, frame.last_kmh)
    figure = panels.build(compared, roads, view.pinned_kmh, frame)
    drawn = panels.structure(compared, roads, view.pinned_kmh, frame)
    return [
        dcc.Store(id=DRAWN, data=drawn),
        figure_card(
            KEY,
            "Over road speed",
            "Where a line of force meets the road load is its top speed.",
            figure,
            "Force, what limits it, power and currents of every setup over road speed.",
        ),
    ]


def _frame(compared: Comparison, view: View) -> panels.Frame:
    return panels.frame(compared.shown, view.width, view.speed)


def roads_of(compared: Comparison, view: View, last_kmh: float) -> list[panels.Road]:
    """Road-load lines: the job's own slope and the user's, once for bikes that ask the same."""
    found: list[panels.Road] = []
    kmh = np.linspace(0.0, last_kmh, 80)
    for r in compared.shown:
        base = compared.job.conditions.grade_percent
        for grade in dict.fromkeys((base, *view.slopes(compared.job))):
            force = road_force(r.rig, grade, kmh)
            # Packs differ by a few hundred grams: one line stands for all of them.
            if not any(np.allclose(force, old.force, rtol=0.03, atol=1.0) for old in found):
                name = "level road" if grade == 0 else f"{number(grade, 1).removesuffix('.0')} %"
                found.append(panels.Road(name, kmh, force))
    return found


def register(app: Dash) -> None:
    """The plots follow the job."""
    from dashboard.callbacks.showing import read

    @app.callback(
        Output(ids.figure(KEY), "figure"),
        Output(DRAWN, "data"),
        Input(ids.SESSION, "data"),
        Input(ids.VIEW, "data"),
        State(DRAWN, "data"),
        prevent_initial_call=True,
    )
    def draw(session: Any, view: Any, drawn: Any) -> tuple[Any, Any]:
        compared, looked = read(session, view)
        frame = _frame(compared, looked)
        roads = roads_of(compared, looked, frame.last_kmh)
        now = panels.structure(compared, roads, looked.pinned_kmh, frame)
        if now != drawn:
            return panels.build(compared, roads, looked.pinned_kmh, frame), now
        return patched(*panels.moving(compared, roads, frame)), no_update


def patched(traces: list[dict[str, Any]], layout: dict[str, Any]) -> Patch:
    """What moves, as a patch of the figure on the page."""
    patch = Patch()
    for place, changes in enumerate(traces):
        for key, value in changes.items():
            patch["data"][place][key] = value
    for axis, changes in layout.items():
        for key, value in changes.items():
            patch["layout"][axis][key] = value
    return patch


PAGE = Page("/", "Which pack?", answer, body, columns, register)

__all__ = ["NONE", "PAGE", "numbers_table"]
