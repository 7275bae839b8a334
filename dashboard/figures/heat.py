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
from dashboard.figures.spec import SIZE, SOFT, Spec, axis, layout, note, packed
from dashboard.text import number, plot_safe
from dashboard.theme import NEUTRAL, faint, mark
from dashboard.warmed import Map

HEIGHT, LEFT, TOP, BOTTOM = 420, 58, 34, 48
LEVELS_C = (30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 120.0, 150.0, 180.0)
APART_C = 8.0
"""No line is drawn as near the limit as this."""
LABEL_AT = (0.24, 0.34)
"""Shares of the width at which numbers stand, by turns."""

Array = NDArray[np.float64]


def build(slot: int, name: str, found: Map, hill: Hill | None, factor: float, unit: str) -> Spec:
    """The map of one setup.

    Args:
        slot: Where the setup stands in the page.
        name: Of the setup.
        found: Its map.
        hill: The goal's, marked where it lies on the map.
        factor: What a speed in km/h is multiplied by.
        unit: Of speed.
    """
    put = layout(HEIGHT, LEFT, 16, TOP, BOTTOM)
    put["hovermode"] = "closest"
    x = found.kmh * factor
    # Heat grows past all bounds where nothing settles; its reciprocal goes to 0 there, evenly.
    cold = _reciprocal(found.winding_c, found.air_c)
    data: list[Spec] = []
    if math.isfinite(found.limit_c):
        limit = float(_reciprocal(found.limit_c, found.air_c))
        data.append(_shade(x, found.grade, cold, limit))
    data.append(_told(x, found, unit))
    for value in levels(found):
        heavy = value == found.limit_c
        data.append(_line(x, found.grade, cold, float(_reciprocal(value, found.air_c)), heavy))
    data.append(_labels(x, found, cold))
    drives = np.isfinite(found.most_kmh)
    last = int(np.argmin(drives)) if not drives.all() else drives.size - 1
    put["yaxis"] = axis(
        range=[0, float(found.grade[max(last, 1)])], fixedrange=True, nticks=8, ticksuffix=" %"
    )
    put["xaxis"] = axis(
        range=[0, float(x[-1]) * 1.02],
        title={"text": f"speed, {unit}", "font": {"color": SOFT}, "standoff": 8},
        fixedrange=True,
        nticks=9,
    )
    put["dragmode"] = False
    most, grade = found.most_kmh[drives] * factor, found.grade[drives]
    data.append(
        {
            "type": "scatter",
            "mode": "lines",
            "name": plot_safe(name, 40),
            "x": packed(most),
            "y": packed(grade),
            "line": {"color": mark(slot).colour, "width": 2.6},
            "hovertemplate": f"at most %{{x:.1f}} {unit} on %{{y:.1f}} %<extra></extra>",
        }
    )
    if hill is not None and hill.speed_kmh * factor <= x[-1]:
        data.append(_goal(hill, factor))
    title = f"<b>Settled winding temperature of {plot_safe(name, 30)}</b>, °C"
    put["annotations"].append(
        note(title, x=0, y=1, xanchor="left", yanchor="bottom", yshift=8, xshift=4 - LEFT)
    )
    return {"data": data, "layout": put}


def levels(found: Map) -> list[float]:
    """Temperatures with a line, °C: those that occur, and the limit."""
    there = found.winding_c[np.isfinite(found.winding_c)]
    if not there.size:
        return []
    least, limit = float(there.min()), found.limit_c
    kept = [c for c in LEVELS_C if least < c and (c < limit - APART_C or not math.isfinite(limit))]
    return [*kept, limit] if math.isfinite(limit) else kept


def crossing(column: Array, grade: Array, level: float) -> float:
    """Grade at which a column of the map passes a level, NaN where it does not."""
    with np.errstate(invalid="ignore"):
        sides = column - level
        at = np.flatnonzero((sides[:-1] > 0) & (sides[1:] <= 0))
    if not at.size:
        return math.nan
    k = int(at[-1])
    share = sides[k] / (sides[k] - sides[k + 1])
    return float(grade[k] + share * (grade[k + 1] - grade[k]))


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


def _contour(x: Array, grade: Array, cold: Array, **more: Any) -> Spec:
    return {
        "type": "contour",
        "x": packed(x),
        "y": packed(grade),
        "z": [[None if math.isnan(v) else round(v, 6) for v in row] for row in cold.tolist()],
        "showscale": False,
        "showlegend": False,
        "connectgaps": False,
        "hoverinfo": "skip",
        **more,
    }


def _shade(x: Array, grade: Array, cold: Array, limit: float) -> Spec:
    return _contour(
        x,
        grade,
        cold,
        contours={"type": "constraint", "operation": "<", "value": limit},
        fillcolor=faint(NEUTRAL, 0.22),
        line={"width": 0, "color": NEUTRAL},
    )


def _line(x: Array, grade: Array, cold: Array, level: float, heavy: bool) -> Spec:
    return _contour(
        x,
        grade,
        cold,
        autocontour=False,
        contours={"coloring": "none", "start": level, "end": level, "size": 1},
        line={"color": NEUTRAL, "width": 2.6 if heavy else 1, "smoothing": 0.6},
    )


def _told(x: Array, found: Map, unit: str) -> Spec:
    """Nothing to see: what a pointer reads anywhere."""
    text = [
        ["not held" if math.isnan(c) else f"{c:.0f} °C" if math.isfinite(c) else "does not settle"
         for c in row]
        for row in found.winding_c.tolist()
    ]  # fmt: skip
    return {
        "type": "heatmap",
        "x": packed(x),
        "y": packed(found.grade),
        "z": [[0] * x.size for _ in text],
        "text": text,
        "opacity": 0,
        "showscale": False,
        "hovertemplate": f"%{{x:.0f}} {unit} on %{{y:.1f}} %: %{{text}}<extra></extra>",
    }


def _labels(x: Array, found: Map, cold: Array) -> Spec:
    """The number of each line, on the line."""
    spots: list[tuple[float, float, str]] = []
    for order, value in enumerate(levels(found)):
        level = float(_reciprocal(value, found.air_c))
        for share in (LABEL_AT[order % 2], *LABEL_AT, 0.12, 0.5):
            k = int(share * (x.size - 1))
            at = crossing(cold[:, k], found.grade, level)
            if math.isfinite(at):
                said = f"{value:.0f}"
                if value == found.limit_c:
                    said = f"<b>limit {number(value)} °C</b>"
                spots.append((float(x[k]), at, said))
                break
    return {
        "type": "scatter",
        "mode": "text",
        "x": [s[0] for s in spots],
        "y": [s[1] for s in spots],
        "text": [s[2] for s in spots],
        "textfont": {"size": SIZE - 1},
        "hoverinfo": "skip",
        "showlegend": False,
    }


def _goal(hill: Hill, factor: float) -> Spec:
    return {
        "type": "scatter",
        "mode": "markers+text",
        "x": [hill.speed_kmh * factor],
        "y": [hill.grade_percent],
        "text": ["  the goal’s hill"],
        "textposition": "middle right",
        "textfont": {"size": SIZE},
        "marker": {"symbol": "x-thin", "size": 11, "line": {"width": 2.4, "color": NEUTRAL}},
        "hoverinfo": "skip",
        "cliponaxis": False,
        "showlegend": False,
    }
