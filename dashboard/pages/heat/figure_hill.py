"""Temperatures of every setup along the goal's hill, with their numbers."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from curves.present.table import Table
from curves.units import Units
from dashboard.answers.setups import Comparison
from dashboard.base.theme import NEUTRAL
from dashboard.base.words import number
from dashboard.figures import lines
from dashboard.figures.spec import SOFT, Spec, note
from dashboard.pages.heat import figure_heat as heat
from dashboard.pages.heat.study import Climb, climbs
from dashboard.state.session import View


def build(compared: Comparison, view: View) -> Spec:
    """Winding and case over the way."""
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
    motors = [r.rig.motor for r, _ in found]
    limits = sorted({m.winding_limit_c for m in motors if m.winding_limit_c is not None})
    magnets = sorted({m.magnet_limit_c for m in motors if m.magnet_limit_c is not None})
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
                "y0": 0, "y1": 1, "line": {"color": NEUTRAL, "width": 1.4, "dash": "2px,4px"},
            }
        )  # fmt: skip
        made["layout"]["annotations"].append(
            note(
                "the goal’s length", x=at, xref="x", y=1, xanchor="left", yanchor="top",
                xshift=4, font={"size": 12, "color": SOFT},
            )
        )  # fmt: skip
    return made


def _limit(what: str, celsius: float, units: Units) -> lines.Level:
    shown, unit = units.shown(celsius, "°C"), units.name("°C")
    return lines.Level(shown, f"limit of the {what}, {shown:z.0f} {unit}")


def numbers(compared: Comparison, view: View) -> Table:
    """The same as a table."""
    found = [(r, c) for r, c in climbs(compared) or [] if np.isfinite(c.way).any()]
    units = view.units
    head = [f"Way, {units.name('km')}", *(r.name for r, _ in found)]
    last = max((float(np.nanmax(c.way)) for _, c in found), default=1.0)
    rows = [
        [number(units.shown(float(x), "km"), 2), *(_at(float(x), c, units) for _, c in found)]
        for x in np.linspace(0.0, last, 13)
    ]
    return Table(head, rows, f"Winding temperature on the goal’s hill, {units.name('°C')}")


def _at(km: float, climb: Climb, units: Units) -> str:
    celsius = float(np.interp(km, climb.way, climb.winding_c, right=np.nan))
    return number(units.shown(celsius, "°C"))
