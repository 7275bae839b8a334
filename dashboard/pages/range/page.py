"""How far? Distance from one charge at a steady speed, what a kilometre takes, and a ride."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import dash_mantine_components as dmc
import numpy as np
from dash import Dash, Input, Output, State, dcc, html, no_update, set_props
from dash.exceptions import PreventUpdate

from curves.numerics.counts import evenly
from curves.present.table import Table
from curves.units import Units
from curves.words.digits import BANDS
from dashboard.answers.setups import Comparison, Reading
from dashboard.answers.study_options import MOST_ROWS
from dashboard.base import ids
from dashboard.base.words import NONE, listed, number, speed, speed_factor, unbroken
from dashboard.figures import lines
from dashboard.pages.range import ride_card
from dashboard.pages.range.range_columns import columns, wish
from dashboard.pages.range.ride_card import asks
from dashboard.pages.range.study import Asked, Far, ranges, work, worked_out
from dashboard.state.session import View
from dashboard.widgets import options
from dashboard.widgets.figure_card import figure_card
from dashboard.widgets.follow import follow
from dashboard.widgets.page import Page
from dashboard.widgets.progress import fill, place

KEY = "range"
OVER_SPEED, TOOLS, UNIT = "range-speed", "range-tools", "range-unit"
ALIKE = 0.03
"""Distances that differ by less than this share are told as level."""


def answer(compared: Comparison, view: View) -> Any:
    """Who goes farthest at the speed asked for, and what comes of the goal."""
    if not compared.shown:
        return html.H1("Show a setup to see how far it goes.")
    found, asked = ranges(compared, view), Asked.of(view)
    if found is None:
        return html.H1("Riding until the packs are empty …")
    more = [*_goal(found, compared, view), *_short(found, asked)]
    watts = {r.rig.bike.rider_power_w for r, _ in found} - {0.0}
    if watts:
        most = f"up to {max(watts):g}" if len(watts) > 1 else f"{max(watts):g}"
        more.append(f"The rider’s own {most} W are taken off what the motor gives.")
    more.append(
        f"From {100 * asked.full:.0f} to {100 * asked.empty:.0f} % charge at a steady speed, "
        "without wind or stops."
    )
    more.append(BANDS)
    return [
        html.H1(unbroken(_headline(found, compared, view))),
        html.Ul([html.Li(unbroken(x)) for x in more], className="more"),
    ]


def _headline(found: Sequence[tuple[Reading, Far]], compared: Comparison, view: View) -> str:
    asked = Asked.of(view)
    at = f"At {speed(asked.kmh, view.speed, 0)} {view.speed}"
    able = [(r, f) for r, f in found if math.isfinite(f.km)]
    if not able:
        return f"{at} no setup goes on, or its pack’s capacity is not given."
    best, most = max(able, key=lambda x: x[1].km)
    level = [r for r, f in able if f.km >= (1 - ALIKE) * most.km]
    units = view.units
    band = most.band_said(units)
    unit, around = f"\u00a0{units.name('km')}", f" {band}" if band else ""
    # The unit stands behind the ±, and before what is in brackets.
    after = f"{unit}{around}" if band.startswith("(") else f"{around}{unit}"
    far = f"{number(units.shown(most.km, 'km'))}{after}"
    if len(able) == 1:
        return f"{at} “{best.name}” goes {far}."
    if len(level) == len(able):
        return f"{at} every setup goes about {far}."
    if len(level) > 1:
        said = f"{at} {listed([f'“{r.name}”' for r in level])} go farthest: {far}"
    else:
        said = f"{at} “{best.name}” goes farthest: {far}"
    other = next(((r, f) for r, f in able if r is compared.reference), None)
    if other is not None and other[0] not in level:
        more = number(units.shown(most.km - other[1].km, "km"))
        said += f", {more}\u00a0{units.name('km')} more than “{other[0].name}”"
    return f"{said}."


def _goal(found: Sequence[tuple[Reading, Far]], compared: Comparison, view: View) -> list[str]:
    goal = compared.job.goals.range_km
    if goal is None:
        return ["The job has no goal for range; give one under Parts."]
    fast = [(r, f.fastest(goal)) for r, f in found]
    asked = wish(goal, view)
    met = [(r, v) for r, v in fast if math.isfinite(v)]
    if not met:
        return [f"The goal of {asked} is out of reach of all, however slow."]
    best, top = max(met, key=lambda x: x[1])
    low = min(v for _, v in met)
    at = f"{speed(top, view.speed, 0)} {view.speed}"
    if len(met) < len(found):
        missed = [f"“{r.name}”" for r, v in fast if not math.isfinite(v)]
        return [
            f"The goal of {asked} is met at up to {at} by “{best.name}”; never by {listed(missed)}."
        ]
    least = speed(low, view.speed, 0)
    return [f"The goal of {asked} is met by all: at up to {least} to {at}, by setup."]


def _short(found: Sequence[tuple[Reading, Far]], asked: Asked) -> list[str]:
    """Those that slow down before the pack is as empty as asked."""
    short = [f"“{r.name}”" for r, f in found if not math.isfinite(f.km)]
    said = []
    if 0 < len(short) < len(found):
        verb = "do" if len(short) > 1 else "does"
        said.append(f"{listed(short)} {verb} not hold that speed, or no capacity is given.")
    early = [r.name for r, f in found if f.last_charge > asked.empty + 0.005]
    if not early:
        return said
    who = "All" if len(early) == len(found) > 1 else listed([f"“{name}”" for name in early])
    hold = "hold" if len(early) > 1 else "holds"
    return [
        *said,
        f"{who} no longer {hold} that speed before the charge is down; the distance ends there.",
    ]


def body(compared: Comparison, view: View) -> Any:
    """Over speed, and the ride."""
    return [
        place(KEY, view),
        figure_card(
            OVER_SPEED,
            "Over speed",
            "Every line ends at its setup’s top speed.",
            _over_speed(compared, view),
            "Energy per distance and range of every setup over steady speed.",
            html.Div(_tools(view), className="pins", id=TOOLS),
        ),
        dcc.Store(id=UNIT, data=view.speed),
        ride_card.card(compared, view),
    ]


def _tools(view: View) -> Any:
    asked = Asked.of(view)
    return [
        dmc.NumberInput(
            label=f"Steady speed, {view.speed}",
            value=round(asked.kmh * speed_factor(view.speed), 2),
            min=1,
            max=200,
            id="range-speed-asked",
            clampBehavior="none",
            size="xs",
        ),
        dmc.NumberInput(
            label="From a charge of, %",
            value=round(100 * asked.full, 3),
            min=1,
            max=100,
            step=5,
            id="range-full",
            clampBehavior="none",
            size="xs",
        ),
        dmc.NumberInput(
            label="Down to, %",
            value=round(100 * asked.empty, 3),
            min=0,
            max=99,
            step=5,
            id="range-empty",
            clampBehavior="none",
            size="xs",
        ),
    ]


def _over_speed(compared: Comparison, view: View) -> dict[str, Any]:
    found, factor = ranges(compared, view) or [], speed_factor(view.speed)
    goal = compared.job.goals.range_km
    last = lines.whole(factor * max((float(f.kmh[-1]) for _, f in found), default=40.0))
    each = [(r, f, f.kmh * factor) for r, f in found]
    units = view.units
    mark = []
    if goal is not None:
        mark = [lines.Level(units.shown(goal, "km"), f"goal, {wish(goal, view)}")]

    def panel(title: str, unit: str, height: int, read: Callable[[Far], Any]) -> lines.Panel:
        drawn = [lines.Line(r.slot, r.name, x, units.shown(read(f), unit)) for r, f, x in each]
        return lines.Panel(title, units.name(unit), height, drawn)

    panels = [
        panel("Range", "km", 260, lambda f: f.kms)._replace(levels=mark),
        panel("Energy per distance", "Wh/km", 190, lambda f: f.whs_per_km),
    ]
    return lines.build(panels, f"speed, {view.speed}", last, view.width)


def _numbers(compared: Comparison, view: View) -> Table:
    found, factor, units = ranges(compared, view) or [], speed_factor(view.speed), view.units
    last = max((float(f.kmh[-1]) for _, f in found), default=40.0)
    speeds = evenly(10.0, last * factor, 5.0, MOST_ROWS)
    heads = [f"{r.name}, {units.name(unit)}" for r, _ in found for unit in ("km", "Wh/km")]
    rows = [
        [number(float(v)), *(_at(float(v) / factor, f, x, units) for _, f in found for x in (0, 1))]
        for v in speeds.tolist()
    ]
    return Table([f"Speed, {view.speed}", *heads], rows, "Range and energy at a steady speed")


def _at(kmh: float, far: Far, which: int, units: Units) -> str:
    values, unit = ((far.kms, "km"), (far.whs_per_km, "Wh/km"))[which]
    if not far.kmh[0] <= kmh <= far.kmh[-1]:
        return NONE
    return number(units.shown(float(np.interp(kmh, far.kmh, values)), unit), which)


def _held(asked: Asked, view: View) -> dict[str, float]:
    """What stands in the fields, by their ids."""
    return {
        "range-speed-asked": round(asked.kmh * speed_factor(view.speed), 2),
        "range-full": round(100 * asked.full, 3),
        "range-empty": round(100 * asked.empty, 3),
    }


def _wrong(typed: tuple[Any, Any, Any], factor: float) -> list[str]:
    """What is wrong with speed, charge and end that were typed, empty for nothing."""
    ends = ((factor, 200 * factor), (1, 100), (0, 99))
    wrong = [options.wrong_number(x, *bounds) for x, bounds in zip(typed, ends, strict=True)]
    if not any(wrong) and typed[1] <= typed[2]:
        wrong[2] = "must be below the charge it starts from"
    return wrong


def register(app: Dash) -> None:
    """The plot follows the job; what is asked is kept in the view."""
    follow(app, OVER_SPEED, _over_speed, _numbers)
    fill(app, KEY, worked_out, work)
    ride_card.register(app)

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input("range-speed-asked", "value"),
        Input("range-full", "value"),
        Input("range-empty", "value"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def ask(typed: Any, full: Any, empty: Any, data: Any) -> Any:
        view = View.parse(data)
        before, factor = Asked.of(view), speed_factor(view.speed)
        held = _held(before, view)
        wrong = _wrong((typed, full, empty), factor)
        for name, said in zip(held, wrong, strict=True):
            set_props(name, {"error": f"{said}; {held[name]:g} stays in force" if said else None})
        if any(wrong):
            return no_update
        kmh = before.kmh if held["range-speed-asked"] == typed else typed / factor
        now = Asked(kmh, full / 100, empty / 100, before.ride)
        # What is said beside a field would be lost with a callback that sets nothing.
        return no_update if now == before else asks(view, now)

    @app.callback(
        Output(TOOLS, "children"),
        Output(ride_card.RIDE_ROWS, "children", allow_duplicate=True),
        Output(UNIT, "data"),
        Input(ids.VIEW, "data"),
        State(UNIT, "data"),
        prevent_initial_call=True,
    )
    def unit(data: Any, shown: Any) -> Any:
        view = View.parse(data)
        if view.speed == shown:
            raise PreventUpdate
        return _tools(view), ride_card.rows(Asked.of(view), view.units), view.speed


PAGE = Page("/range", "How far?", answer, body, columns, register)
