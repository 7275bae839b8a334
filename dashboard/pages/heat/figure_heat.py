"""The map of settled winding temperature over speed and grade, in ink: lines of one temperature.

Lines of a temperature are numbered where they stand, the limit is the heavy one, and what lies
beyond it is shaded. Colour stays the setup's: it draws how fast that can go on each grade.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curves.parts.goals import Hill
from curves.units import Units
from dashboard.base.theme import NEUTRAL, faint, mark
from dashboard.base.words import number, plot_safe
from dashboard.figures.spec import (
    CARD,
    SIZE,
    Spec,
    axis,
    finite_max,
    layout,
    note,
    packed,
    round_up,
    titled,
)
from dashboard.pages.heat.study import Map

HEIGHT, LEFT, TOP, BOTTOM = 420, 58, 34, 48
LEVELS = {
    "°C": (30, 40, 50, 60, 80, 100, 120, 150, 180),
    "°F": (90, 100, 120, 140, 180, 210, 250, 300, 350),
}
"""Round temperatures, in each unit they are read in."""
APART_C = 8.0
"""No line is drawn as near the limit as this."""
LABEL_AT, LIMIT_AT = (0.3, 0.4, 0.5), 0.15
"""Shares of the width at which numbers stand, by turns, and that of the limit."""
STEEPEST_PERCENT = 30.0
"""No steeper road is drawn."""

Array = NDArray[np.float64]


def build(slot: int, name: str, found: Map, hill: Hill | None, units: Units) -> Spec:
    """The map of one setup.

    Args:
        slot: Where the setup stands in the page.
        name: Of the setup.
        found: Its map.
        hill: The goal's, marked where it lies on the map.
        units: What is read.
    """
    put = layout(HEIGHT, LEFT, 16, TOP, BOTTOM)
    put["hovermode"] = "closest"
    x, unit = units.shown(found.kmh, "km/h"), units.name("km/h")
    most = found.grade[-1]
    across, up = float(x[-1]) * 1.04, _top(most)
    data: list[Spec] = []
    for value in levels(found, units):
        grade = grade_at(found, value)
        if value == found.limit_c:
            data += _beyond(x, grade, most)
        data.append(_line(x, grade, value, units, heavy=value == found.limit_c))
    data.append(_labels(x, found, units))
    put["yaxis"] = axis(range=[0, up], fixedrange=True, nticks=8, ticksuffix=" %")
    put["xaxis"] = axis(
        range=[0, across],
        title=titled(f"speed, {unit}"),
        fixedrange=True,
        nticks=9,
    )
    put["dragmode"] = False
    data.append(
        {
            "type": "scatter",
            "mode": "lines",
            "name": plot_safe(name, 40),
            "x": packed(x),
            "y": packed(most),
            "line": {"color": mark(slot).colour, "width": 2.6},
            "hovertemplate": f"the most at %{{x:.0f}} {unit}: %{{y:.1f}} %<extra></extra>",
        }
    )
    if (
        hill is not None
        and units.shown(hill.speed_kmh, "km/h") < across
        and hill.grade_percent < up
    ):
        data.append(_goal(hill, units))
    title = f"<b>Settled winding temperature of “{plot_safe(name, 30)}”</b>, {units.name('°C')}"
    put["annotations"].append(
        note(title, x=0, y=1, xanchor="left", yanchor="bottom", yshift=8, xshift=4 - LEFT)
    )
    return {"data": data, "layout": put}


def _top(most: Array) -> float:
    """Where the axis of grades ends."""
    return round_up(1.04 * min(finite_max([most]), STEEPEST_PERCENT))


def levels(found: Map, units: Units) -> list[float]:
    """Temperatures with a line, °C: those that occur, round as they are read, and the limit."""
    there = found.winding_c[np.isfinite(found.winding_c)]
    if not there.size:
        return []
    least, limit = float(there.min()), found.limit_c
    zero, per = units.shown(0.0, "°C"), units.change(1.0, "°C")
    round_c = ((shown - zero) / per for shown in LEVELS[units.name("°C")])
    kept = [c for c in round_c if least < c and (c < limit - APART_C or not math.isfinite(limit))]
    return [*kept, limit] if math.isfinite(limit) else kept


def grade_at(found: Map, celsius: float) -> Array:
    """Grade at which the winding settles at a temperature, percent, at each speed; NaN for none."""
    # Heat grows past all bounds where nothing settles; its reciprocal goes to 0 there, evenly.
    cold, level = (_reciprocal(c, found.air_c) for c in (found.winding_c, celsius))
    out = np.full(found.kmh.size, np.nan)
    for j, (column, grade) in enumerate(zip(cold.T, found.grade.T, strict=True)):
        below = column > level
        at = np.flatnonzero(below[:-1] & ~below[1:] & ~np.isnan(column[1:]))
        if at.size:
            k = int(at[0])
            share = (column[k] - level) / (column[k] - column[k + 1])
            out[j] = grade[k] + share * (grade[k + 1] - grade[k])
    return out


def blank(text: str) -> Spec:
    """A plot of nothing yet."""
    put = layout(HEIGHT, LEFT, 16, TOP, BOTTOM)
    put["xaxis"] = axis(visible=False)
    put["yaxis"] = axis(visible=False)
    put["annotations"].append(note(text, x=0.5, y=0.5))
    return {"data": [], "layout": put}


def _reciprocal(celsius: Any, air_c: float) -> Array:
    rise = np.maximum(np.asarray(celsius, dtype=np.float64) - air_c, 0.1)
    return np.asarray(100 / rise)


def _beyond(x: Array, grade: Array, most: Array) -> list[Spec]:
    """The shade between the limit and all the motor holds."""
    there = np.isfinite(grade)
    edge: Spec = {"type": "scatter", "mode": "lines", "line": {"width": 0}, "hoverinfo": "skip"}
    return [
        {**edge, "x": packed(x[there]), "y": packed(grade[there])},
        {
            **edge,
            "x": packed(x[there]),
            "y": packed(most[there]),
            "fill": "tonexty",
            "fillcolor": faint(NEUTRAL, 0.24),
        },
    ]


def _line(x: Array, grade: Array, celsius: float, units: Units, *, heavy: bool) -> Spec:
    return {
        "type": "scatter",
        "mode": "lines",
        "x": packed(x),
        "y": packed(grade),
        "line": {"color": NEUTRAL, "width": 3 if heavy else 1},
        "hovertemplate": f"settles at {units.shown(celsius, '°C'):z.0f} {units.name('°C')}: "
        f"%{{x:.0f}} {units.name('km/h')}, %{{y:.1f}} %<extra></extra>",
    }


def _labels(x: Array, found: Map, units: Units) -> Spec:
    """The number of each line, on the line."""
    spots: list[tuple[float, float, str, str]] = []
    for order, value in enumerate(levels(found, units)):
        grade = grade_at(found, value)
        there = np.flatnonzero(np.isfinite(grade))
        if not there.size:
            continue
        limit = value == found.limit_c
        share = LIMIT_AT if limit else LABEL_AT[order % len(LABEL_AT)]
        k = int(there[np.argmin(np.abs(there - share * (x.size - 1)))])
        degrees = number(units.shown(value, "°C"))
        said = f"<b>limit, {degrees} {units.name('°C')}</b>" if limit else degrees
        where = "top center" if limit else "middle center"
        spots.append((float(x[k]), float(grade[k]), said, where))
    return {
        "type": "scatter",
        "mode": "text",
        "x": [s[0] for s in spots],
        "y": [s[1] for s in spots],
        "text": [s[2] for s in spots],
        "textposition": [s[3] for s in spots],
        "textfont": {"size": SIZE - 1},
        "hoverinfo": "skip",
        "showlegend": False,
    }


def _goal(hill: Hill, units: Units) -> Spec:
    return {
        "type": "scatter",
        "mode": "markers+text",
        "x": [units.shown(hill.speed_kmh, "km/h")],
        "y": [hill.grade_percent],
        "text": ["the goal’s hill  "],
        "textposition": "middle left",
        "textfont": {"size": SIZE},
        "marker": {
            "symbol": "x",
            "size": 10,
            "color": NEUTRAL,
            "line": {"width": 1, "color": CARD},
        },
        "hoverinfo": "skip",
        "cliponaxis": False,
        "showlegend": False,
    }
