"""Columns of range for the table of setups: distance, energy a distance, the goal, the ride."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from dash import html

from curves.units import Units
from dashboard.answers.setups import Comparison
from dashboard.base.words import number, speed, speed_factor
from dashboard.pages.range.study import Asked, Far, Ridden, ranges, rides
from dashboard.state.session import View
from dashboard.widgets import result_columns as results
from dashboard.widgets.found import cell
from dashboard.widgets.marks import change, soft
from dashboard.widgets.setups_table import Column


def wish(km: float, view: View) -> str:
    """A distance as the user asked for it."""
    return f"{view.units.shown(km, 'km'):.4g}\u00a0{view.units.name('km')}"


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """Distance, what a kilometre takes, the goal, and the ride."""
    asked, goal, units = Asked.of(view), compared.job.goals.range_km, view.units
    found = ranges(compared, view)
    at = f"{speed(asked.kmh, view.speed, 0)}\u00a0{view.speed}"
    charge = f"From {100 * asked.full:.0f} to {100 * asked.empty:.0f} % charge at a steady speed"
    made = [
        Column(
            "far", f"Goes at {at}, {units.name('km')}", charge, cell(found, _km(units)), "pinned"
        ),
        Column(
            "per-km",
            f"Takes at {at}, {units.name('Wh/km')}",
            "Drawn at the controller’s input, at the row’s charge",
            cell(found, _per_km(units)),
            "pinned",
        ),
    ]
    if goal is not None:
        head = f"Goes {wish(goal, view)} at up to, {view.speed}"
        said = "The highest steady speed at which the goal’s range is met"
        made.append(
            Column("goal", head, said, cell(found, lambda a, b: _fastest(a, b, goal, view.speed)))
        )
    if asked.ride:
        said = "Charge left after the ride described below, and what it draws"
        made.append(Column("ride", "After the ride, %", said, cell(rides(compared, view), _left)))
    return [*made, results.care_column(compared, view)]


def _figure(value: float, other: float | None, digits: int = 0) -> list[Any]:
    parts = [html.Span(number(value, digits), className="figure")]
    if other is not None:
        parts += change(value - other, digits)
    return parts


def _km(units: Units) -> Callable[[Far, Far | None], Any]:
    def say(own: Far, other: Far | None) -> Any:
        if not math.isfinite(own.km):
            return soft("not held, or no capacity given")
        against = None if other is None else units.shown(other.km, "km")
        parts = _figure(units.shown(own.km, "km"), against)
        if said := own.band_said(units):
            parts.append(soft(said))
        return parts

    return say


def _per_km(units: Units) -> Callable[[Far, Far | None], Any]:
    def say(own: Far, other: Far | None) -> Any:
        if not math.isfinite(own.wh_per_km):
            return soft("not held", title="It does not hold this speed")
        against = None if other is None else units.shown(other.wh_per_km, "Wh/km")
        return _figure(units.shown(own.wh_per_km, "Wh/km"), against, 1)

    return say


def _fastest(own: Far, other: Far | None, goal: float, unit: str) -> Any:
    value, factor = own.fastest(goal), speed_factor(unit)
    if not math.isfinite(value):
        return soft("never")
    against = None if other is None else other.fastest(goal) * factor
    return _figure(value * factor, against, 1)


def _left(own: Ridden, other: Ridden | None) -> Any:
    if not own.done:
        return soft("does not arrive")
    parts = _figure(100 * own.charge, None if other is None else 100 * other.charge)
    parts.append(soft(f"{number(own.wh)} Wh"))
    return parts if own.held else [*parts, soft("slower in parts")]
