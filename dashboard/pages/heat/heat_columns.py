"""Columns of heat for the table of setups: the hill, minutes to the limit, where it settles."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from dash import html

from curves.parts.labels import MAY_NOT_START
from curves.units import Units
from dashboard.answers.setups import Comparison
from dashboard.base.words import NONE, number, speed, with_unit
from dashboard.pages.heat.study import Climb, Level, climbs, levels
from dashboard.state.session import View
from dashboard.widgets import result_columns as results
from dashboard.widgets.found import cell
from dashboard.widgets.marks import change, soft
from dashboard.widgets.setups_table import Column


def short(km: float, units: Units) -> str:
    """A length in km as it is read, to the digits it deserves."""
    if math.isinf(km):
        return "any"
    return NONE if math.isnan(km) else number(units.shown(km, "km"), 1 if km < 20 else 0)


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
                cell(hill, lambda own, other: _reach(own, other, units)),
            ),
            Column(
                "minutes",
                "Limit reached after, min",
                "On the goal’s hill",
                cell(hill, lambda own, other: _minutes(own, other, units)),
            ),
        ]
    said = "Where the winding settles at a steady speed, and when it would pass its limit"
    made.append(
        Column(
            "top",
            f"Winding at top speed, {units.name('°C')}",
            said,
            cell(level, _at_level(0, view)),
            "pinned",
        )
    )
    for kmh in view.pinned_kmh[:1]:
        head = f"At {speed(kmh, view.speed, 0)}\u00a0{view.speed}, {units.name('°C')}"
        made.append(Column(f"level-{kmh:g}", head, said, cell(level, _at_level(1, view)), "pinned"))
    return [*made, results.care_column(compared, view)]


def _at_level(place: int, view: View) -> Callable[[Any, Any], Any]:
    return lambda own, other: _settles(own[place], other[place] if other else None, view.units)


def _reach(own: Climb, other: Climb | None, units: Units) -> Any:
    if math.isnan(own.longest):
        return soft("heat values not given")
    if own.longest == 0 and not own.goes:
        return soft(_stays(own, units))
    if math.isinf(own.longest):
        return soft("any length", title="Heat never ends this climb")
    parts: list[Any] = [html.Span(short(own.longest, units), className="figure")]
    if other is not None:
        parts += change(units.change(own.longest - other.longest, "km"), 1)
    if own.low < own.high:
        high = short(own.high, units) if math.isfinite(own.high) else "any length"
        least = f"{short(own.low, units)} to {high}"
        parts.append(soft(f"up to {high}; {MAY_NOT_START}" if own.low == 0 else least))
    return parts


def _stays(own: Climb, units: Units) -> str:
    """Why it does not get away: it cannot, or a cap is 0."""
    return f"held at 0 {units.name('km/h')}" if own.starts else "cannot start"


def _minutes(own: Climb, other: Climb | None, units: Units) -> Any:
    if math.isnan(own.minutes):
        if math.isnan(own.longest):
            return soft("not known", title="Its heat values are not given")
        return soft("not reached" if own.longest > 0 else _stays(own, units))
    parts = [html.Span(number(own.minutes), className="figure")]
    if other is not None:
        parts += change(own.minutes - other.minutes)
    return parts


def _settles(own: Level, other: Level | None, units: Units) -> Any:
    if math.isnan(own.winding_c):
        return soft("not known")
    never = math.isinf(own.winding_c)
    settled = number(units.shown(own.winding_c, "°C"))
    parts: list[Any] = [
        soft("does not settle") if never else html.Span(settled, className="figure")
    ]
    if other is not None and not never:
        parts += change(units.change(own.winding_c - other.winding_c, "°C"))
    if math.isfinite(own.minutes):
        parts.append(soft(f"limit in {number(own.minutes)} min"))
    if own.held_kmh < own.kmh - 0.05:
        parts.append(soft(f"holds {with_unit(own.held_kmh, 'km/h', units)}"))
    return parts
