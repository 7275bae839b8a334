"""Does it stay cool? How much of the goal's hill can be climbed, and where temperatures settle."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import dash_mantine_components as dmc
import numpy as np
from dash import Dash, Input, Output, State, html
from dash.exceptions import PreventUpdate

from curves.units import Units
from dashboard import ids
from dashboard.callbacks.cards import follow
from dashboard.components import result_columns as results
from dashboard.components import typical_heat
from dashboard.components.figure_card import figure_card
from dashboard.components.marks import soft
from dashboard.components.setups_table import Column
from dashboard.figures import heat, lines
from dashboard.pages.registry import Page
from dashboard.results import Comparison, Reading
from dashboard.state import View
from dashboard.text import NONE, listed, number, signed, speed, unbroken, with_unit
from dashboard.waiting import WORKING, fill, place
from dashboard.warmed import (
    Climb,
    Level,
    chosen,
    climbs,
    levels,
    mapped,
    work,
    worked_out,
)

KEY = "heat"
ON_HILL, MAP = "heat-hill", "heat-map"
ALIKE = 0.1
"""Reaches that differ by less than this share are told as one."""
INVENTED = "The demonstration’s heat values are invented."


def answer(compared: Comparison, view: View) -> Any:
    """How far up the goal's hill, which is best and which worst."""
    if not compared.shown:
        return html.H1("Show a setup to see what warms up.")
    found, goal = climbs(compared), compared.job.goals.hill
    if goal is None:
        said, more = "Give the goal a hill, under Parts, to see how far each setup climbs it.", []
    elif found is None:
        return html.H1("Climbing the hill with every setup …")
    else:
        said, more = _headline(found, compared, view), _more(found, compared)
    if compared.session.invented:
        more.append(INVENTED)
    return [
        html.H1(unbroken(said)),
        html.Ul([html.Li(unbroken(x)) for x in more], className="more"),
    ]


def _hill_said(compared: Comparison, view: View) -> str:
    goal = compared.job.goals.hill
    if goal is None:
        return "the hill"
    at = f"{speed(goal.speed_kmh, view.speed, 0)} {view.speed}"
    return f"{goal.grade_percent:g} % at {at}"


def _headline(found: Sequence[tuple[Reading, Climb]], compared: Comparison, view: View) -> str:
    able = [(r, c) for r, c in found if not math.isnan(c.longest)]
    hill = _hill_said(compared, view)
    if not able:
        return "How far heat lets these setups climb is not known: take typical heat values below."
    best = max(able, key=lambda x: x[1].longest)
    worst = min(able, key=lambda x: x[1].longest)
    if math.isinf(worst[1].longest):
        who = "Heat ends it for none of the setups" if len(able) > 1 else "Heat does not end it"
        return f"{who}: {hill} can be climbed for any length."
    if worst[1].longest >= (1 - ALIKE) * best[1].longest:
        who = "Every setup climbs" if len(able) > 1 else f"“{best[0].name}” climbs"
        about = "about " if len(able) > 1 else ""
        return f"{who} {about}{_km(worst[1], view.units)} of {hill} before the winding’s limit."
    text = (
        f"“{best[0].name}” climbs {_km(best[1], view.units)} of {hill} before the winding’s limit, "
        f"“{worst[0].name}” {_km(worst[1], view.units)}"
    )
    other = next(((r, c) for r, c in able if r is compared.reference), None)
    if other is not None and other[0] not in (best[0], worst[0]):
        text += f"; “{other[0].name}” {_km(other[1], view.units)}"
    return f"{text}."


def _km(climb: Climb, units: Units) -> str:
    if math.isinf(climb.longest):
        low = (
            f", at worst {_short(climb.low, units)}\u00a0{units.name('km')}"
            if math.isfinite(climb.low)
            else ""
        )
        return f"any length{low}"
    band = (
        f" ({_short(climb.low, units)} to {_short(climb.high, units)})"
        if climb.low < climb.high
        else ""
    )
    return f"{_short(climb.longest, units)}\u00a0{units.name('km')}{band}"


def _short(km: float, units: Units) -> str:
    if math.isinf(km):
        return "any"
    return NONE if math.isnan(km) else number(units.shown(km, "km"), 1 if km < 20 else 0)


def _more(found: Sequence[tuple[Reading, Climb]], compared: Comparison) -> list[str]:
    goal = compared.job.goals.hill
    if goal is None:
        return []
    length = goal.length_m / 1000
    able = [(r, c) for r, c in found if not math.isnan(c.longest)]
    short = [r.name for r, c in able if c.longest < length]
    doubtful = [r.name for r, c in able if c.low < length <= c.longest]
    said = f"The goal’s {goal.length_m:,.0f} m"
    more = []
    if able and not short:
        more.append(f"{said} {'are climbed by all' if len(able) > 1 else 'are climbed'}.")
    elif short:
        more.append(f"{said} are too much for {_names(short, len(able))}.")
    if doubtful:
        more.append(f"They are within the band of {_names(doubtful, len(able))}.")
    more.append(
        "In brackets: the band from 5 to 95 % that the inputs’ tolerances give. From the "
        "winding’s temperature in the row; the charge is held."
    )
    return more


def _names(names: Sequence[str], of: int) -> str:
    return "all" if len(names) == of > 1 else listed([f"“{name}”" for name in names])


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """Reach on the hill, minutes to the limit, and where a steady speed settles."""
    hill, level, units = climbs(compared), levels(compared, view), view.units
    made = []
    if compared.job.goals.hill is not None:
        grade = f"{compared.job.goals.hill.grade_percent:g}"
        said = "Longest such hill before the winding’s limit, with its band from 5 to 95 %"
        made += [
            Column(
                "reach",
                f"Climbs {grade}\u00a0%, {units.name('km')}",
                said,
                _cell(hill, lambda own, other: _reach(own, other, units)),
            ),
            Column(
                "minutes", "Limit reached after, min", "On the goal’s hill", _cell(hill, _minutes)
            ),
        ]
    said = "Where the winding settles at a steady speed, and when it would pass its limit"
    made.append(
        Column(
            "top",
            f"Winding at top speed, {units.name('°C')}",
            said,
            _cell(level, _at_level(0, view)),
            "pinned",
        )
    )
    for kmh in view.pinned_kmh[:1]:
        head = f"At {speed(kmh, view.speed, 0)}\u00a0{view.speed}, {units.name('°C')}"
        made.append(
            Column(f"level-{kmh:g}", head, said, _cell(level, _at_level(1, view)), "pinned")
        )
    return [*made, results.care_column(compared, view)]


def _cell(
    found: Sequence[tuple[Reading, Any]] | None, say: Callable[[Any, Any], Any]
) -> Callable[[Reading, Reading | None], Any]:
    """A cell of what was found for a setup, and for the one it is compared to."""
    by_slot = None if found is None else {r.slot: x for r, x in found}

    def cell(r: Reading, against: Reading | None) -> Any:
        if by_slot is None:
            return WORKING
        own = by_slot.get(r.slot)
        return NONE if own is None else say(own, against and by_slot.get(against.slot))

    return cell


def _at_level(place: int, view: View) -> Callable[[Any, Any], Any]:
    return lambda own, other: _settles(own[place], other[place] if other else None, view.units)


def _reach(own: Climb, other: Climb | None, units: Units) -> Any:
    if math.isnan(own.longest):
        return soft("heat values not given")
    if own.longest == 0 and own.held_kmh <= 0:
        return soft("cannot start")
    parts: list[Any] = [html.Span(_short(own.longest, units), className="figure")]
    change = own.longest - other.longest if other is not None else math.nan
    if math.isfinite(change):
        parts.append(html.Span(signed(units.change(change, "km"), 1), className="change"))
    if own.low < own.high:
        parts.append(soft(f"{_short(own.low, units)} to {_short(own.high, units)}"))
    return parts


def _minutes(own: Climb, other: Climb | None) -> Any:
    if math.isnan(own.minutes):
        return soft("not reached" if own.longest > 0 else NONE)
    parts = [html.Span(number(own.minutes), className="figure")]
    if other is not None and math.isfinite(other.minutes):
        parts.append(html.Span(signed(own.minutes - other.minutes), className="change"))
    return parts


def _settles(own: Level, other: Level | None, units: Units) -> Any:
    if math.isnan(own.winding_c):
        return soft("not known")
    never = math.isinf(own.winding_c)
    settled = number(units.shown(own.winding_c, "°C"))
    parts: list[Any] = [
        soft("does not settle") if never else html.Span(settled, className="figure")
    ]
    change = own.winding_c - other.winding_c if other is not None and not never else math.nan
    if math.isfinite(change):
        parts.append(html.Span(signed(units.change(change, "°C")), className="change"))
    if math.isfinite(own.minutes):
        parts.append(soft(f"limit in {number(own.minutes)} min"))
    if own.held_kmh < own.kmh - 0.05:
        parts.append(soft(f"holds {with_unit(own.held_kmh, 'km/h', units)}"))
    return parts


def body(compared: Comparison, view: View) -> Any:
    """Typical values where there are none, then the hill and the map."""
    made = mapped(compared, view)
    ready = made is None or made[1] is not None
    return [
        place(KEY, view),
        html.Div(typical_heat.offer(compared.session, view.units), id=typical_heat.PLACE),
        figure_card(
            ON_HILL,
            "On the hill",
            "The winding warms within minutes, the case behind it slowly.",
            _on_hill(compared, view),
            "Temperatures of winding and case of every setup along the goal's hill.",
        ),
        figure_card(
            MAP,
            "Any speed, any grade",
            "In the shade, beyond the heavy line, the winding passes its limit if the ride lasts.",
            _map(compared, view) if ready else heat.blank("Working out the map …"),
            "Settled winding temperature of one setup over speed and grade.",
            _tools(compared, view),
        ),
    ]


def _tools(compared: Comparison, view: View) -> Any:
    reading = chosen(compared, view)
    return html.Div(
        dmc.Select(
            label="Setup on the map",
            data=[{"value": str(r.slot), "label": r.name} for r in compared.shown],
            value=None if reading is None else str(reading.slot),
            id="heat-map-setup",
            allowDeselect=False,
            size="xs",
        ),
        className="pins",
    )


def _on_hill(compared: Comparison, view: View) -> dict[str, Any]:
    found = climbs(compared)
    if not found:
        hill = compared.job.goals.hill
        return heat.blank("The goal has no hill" if hill is None else "Climbing …")
    goal = compared.job.goals.hill
    length = 0.0 if goal is None else goal.length_m / 1000
    ends = [c.longest for _, c in found if math.isfinite(c.longest)]
    last = lines.whole(max([1.05 * x for x in ends] + [1.5 * length]))

    def cut(c: Climb, values: Any) -> tuple[Any, Any]:
        keep = np.isfinite(c.way) & (c.way <= last * 1.0001)
        way, values = c.way, np.asarray(values)
        if keep.any() and not keep.all() and np.nanmax(way) > last:
            end = float(np.interp(last, way, values))
            way, values = np.append(way[keep], last), np.append(values[keep], end)
        else:
            way, values = way[keep], values[keep]
        return units.shown(way, "km"), units.shown(values, "°C")

    warm, units = view.units.name("°C"), view.units
    limits = sorted({r.rig.motor.winding_limit_c for r, _ in found} - {None})
    magnets = sorted({r.rig.motor.magnet_limit_c for r, _ in found} - {None})
    panels = [
        lines.Panel(
            "Winding",
            warm,
            280,
            [lines.Line(r.slot, r.name, *cut(c, c.winding_c)) for r, c in found],
            [_limit("winding", x, units) for x in limits],
        ),
        lines.Panel(
            "Case and magnets",
            warm,
            150,
            [lines.Line(r.slot, r.name, *cut(c, c.case_c)) for r, c in found],
            [_limit("magnets", x, units) for x in magnets],
        ),
    ]
    end = units.shown(last, "km")
    made = lines.build(panels, f"way up the hill, {units.name('km')}", end, view.width)
    if goal is not None:
        at = units.shown(length, "km")
        made["layout"]["shapes"].append(
            {
                "type": "line", "xref": "x", "yref": "paper", "x0": at, "x1": at,
                "y0": 0, "y1": 1, "line": {"color": heat.NEUTRAL, "width": 1.4, "dash": "2px,4px"},
            }
        )  # fmt: skip
        made["layout"]["annotations"].append(
            heat.note(
                "the goal’s length", x=at, xref="x", y=1, xanchor="left", yanchor="top",
                xshift=4, font={"size": 12, "color": heat.SOFT},
            )
        )  # fmt: skip
    return made


def _limit(what: str, celsius: float, units: Units) -> lines.Level:
    shown, unit = units.shown(celsius, "°C"), units.name("°C")
    return lines.Level(shown, f"limit of the {what}, {shown:.0f} {unit}")


def _map(compared: Comparison, view: View) -> dict[str, Any]:
    made = mapped(compared, view)
    if made is None:
        return heat.blank("No setup is shown")
    reading, found = made
    if found is None:
        return heat.blank("Working out the map …")
    if np.isnan(found.winding_c).all():
        return heat.blank("Its motor has no heat values yet")
    return heat.build(reading.slot, reading.name, found, compared.job.goals.hill, view.units)


def _numbers(compared: Comparison, view: View) -> tuple[list[str], list[list[str]], str]:
    found = [(r, c) for r, c in climbs(compared) or [] if np.isfinite(c.way).any()]
    units = view.units
    head = [f"Way, {units.name('km')}", *(r.name for r, _ in found)]
    last = max((float(np.nanmax(c.way)) for _, c in found), default=1.0)
    rows = [
        [number(units.shown(float(x), "km"), 2), *(_at(float(x), c, units) for _, c in found)]
        for x in np.linspace(0.0, last, 13)
    ]
    return head, rows, f"Winding temperature on the goal’s hill, {units.name('°C')}"


def _at(km: float, climb: Climb, units: Units) -> str:
    celsius = float(np.interp(km, climb.way, climb.winding_c, right=np.nan))
    return number(units.shown(celsius, "°C"))


def _numbers_map(compared: Comparison, view: View) -> tuple[list[str], list[list[str]], str]:
    made = mapped(compared, view)
    if made is None or made[1] is None:
        return ["Speed"], [], "Not worked out yet"
    (reading, found), units = made, view.units
    shown = heat.levels(found)
    head = [
        f"Speed, {view.speed}",
        *(f"{units.shown(c, '°C'):.0f} {units.name('°C')}" for c in shown),
        "all it holds",
    ]
    grades = [*(heat.grade_at(found, c) for c in shown), found.grade[-1]]
    rows = [
        [speed(found.kmh[j], view.speed, 0), *(number(float(g[j]), 1) for g in grades)]
        for j in range(0, found.kmh.size, 2)
    ]
    said = f"Grade, %, at which the winding of “{reading.name}” settles at a temperature"
    return head, rows, said


def register(app: Dash) -> None:
    """The plots follow the job; what is slow is worked out when the page asks for it."""
    follow(app, ON_HILL, _on_hill, _numbers)
    follow(app, MAP, _map, _numbers_map)
    fill(app, KEY, worked_out, work)
    typical_heat.register(app)

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input("heat-map-setup", "value"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def pick(slot: Any, data: Any) -> Any:
        view = View.parse(data)
        now = {"slot": int(slot)} if slot is not None else {}
        if now == view.extra.get("heat", {}):
            raise PreventUpdate
        return {**view.data(), "extra": {**view.extra, "heat": now}}


PAGE = Page("/heat", "Does it stay cool?", answer, body, columns, register)
