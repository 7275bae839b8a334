"""The traces of one panel: lines, markers along them, names at their ends, top speeds, roads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from curves.numerics.counts import evenly
from dashboard.answers.curve import Array
from dashboard.answers.setups import Reading
from dashboard.base.theme import NEUTRAL, mark
from dashboard.base.words import plot_safe, speed, speed_factor
from dashboard.figures.spec import CARD, CHARACTER, SIZE, SOFT, Spec, packed
from dashboard.pages.which_pack import figure_flags as flags
from dashboard.pages.which_pack.figure_scale import Frame, Panel, Road, top_of

MARKS = 3
"""Markers along a line as long as the axis."""


def panel_traces(
    panel: Panel, readings: Sequence[Reading], roads: Sequence[Road], f: Frame, y: str
) -> list[Spec]:
    """Everything drawn in a panel, always in the same order.

    Args:
        panel: The quantity.
        readings: The setups drawn.
        roads: Road-load lines, for the panel of force.
        f: Size and scale.
        y: The panel's axis.
    """
    lines = [_line(r, panel, f, y) for r in readings]
    data = [*lines, _marks(readings, panel, f, y), *_flags(readings, panel, f, y)]
    if panel.key == "force":
        roads_first = _roads(roads, f, y, top_of(panel, readings))
        return [*roads_first, *data, _tops(readings, f, y), _numbers(f, y)]
    return data


def _line(reading: Reading, panel: Panel, f: Frame, y: str) -> Spec:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": plot_safe(reading.name, 40),
        "x": packed(reading.curve.speed * speed_factor(f.unit)),
        "y": packed(panel.read(reading.curve)),
        "yaxis": y,
        "line": {"color": mark(reading.slot).colour, "width": 2.4},
        "hovertemplate": f"%{{y:,.0f}} {panel.unit}",
    }


def _roads(roads: Sequence[Road], f: Frame, y: str, top: float) -> list[Spec]:
    """Road-load lines, cut where they leave the panel, their names at the cut."""
    lines, names = [], []
    for road in roads:
        inside = road.force <= top
        x = road.speed[inside] * speed_factor(f.unit)
        force = road.force[inside]
        lines.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": road.name,
                "x": packed(x),
                "y": packed(force),
                "yaxis": y,
                "line": {"color": NEUTRAL, "width": 1.8},
                "meta": "road",
                "hovertemplate": "%{y:,.0f} N",
            }
        )
        if x.size:
            names.append((float(x[-1]), float(force[-1]), road.name))
    labels = {
        **_still(y, "text"),
        "x": [x for x, _, _ in names],
        "y": [force for _, force, _ in names],
        "text": [f"{name} " for _, _, name in names],
        "textposition": "bottom left" if not names else ["top left"] * len(names),
        "textfont": {"size": SIZE - 1, "color": SOFT},
    }
    return [*lines, labels]


def _marks(readings: Sequence[Reading], panel: Panel, f: Frame, y: str) -> Spec:
    """Markers along the lines, each setup's between the others', so that lines in one show all."""
    x, values, symbols, colours, sizes = [], [], [], [], []
    apart = f.last_kmh / MARKS
    for order, r in enumerate(readings):
        first = apart * (order + 0.5) / len(readings)
        wanted = evenly(first, r.curve.end, apart, MARKS)
        at = [*np.searchsorted(r.curve.speed, wanted), _last(panel.read(r.curve))]
        x += [float(v) for v in r.curve.speed[at] * speed_factor(f.unit)]
        values += [float(v) if math.isfinite(v) else None for v in panel.read(r.curve)[at]]
        symbols += [mark(r.slot).symbol] * len(at)
        colours += [mark(r.slot).colour] * len(at)
        sizes += [7] * (len(at) - 1) + [9]
    return {
        **_still(y, "markers"),
        "x": x,
        "y": values,
        "marker": {
            "symbol": symbols,
            "color": colours,
            "size": sizes,
            "line": {"width": 1, "color": CARD},
        },
    }


def _flags(readings: Sequence[Reading], panel: Panel, f: Frame, y: str) -> list[Spec]:
    """Names at the ends of the lines, with a thin staff where a name had to go higher."""
    if f.narrow and panel.key != "force":
        # No room: the first panel and the bands below it name the lines.
        readings = ()
    readings = [r for r in readings if np.isfinite(panel.read(r.curve)).any()]
    names = [plot_safe(r.name, 22 if f.narrow else 30) for r in readings]
    last = [_last(panel.read(r.curve)) for r in readings]
    feet = [float(r.curve.speed[k]) for r, k in zip(readings, last, strict=True)]
    widths = [len(name) * CHARACTER + 4 for name in names]
    placed = flags.place([f.px(x) for x in feet], widths, f.across + f.right)
    unit_px = top_of(panel, readings) / panel.height
    staffs_x: list[float | None] = []
    staffs_y: list[float | None] = []
    xs, ys, sides = [], [], []
    for reading, k, flag in zip(readings, last, placed, strict=True):
        x = float(reading.curve.speed[k]) * speed_factor(f.unit)
        foot = _finite(panel.read(reading.curve)[k])
        y_name = foot + (flags.FOOT + flag.lane * flags.LANE) * unit_px
        staffs_x += [x, x, None]
        staffs_y += [foot, y_name + 6 * unit_px, None]
        xs.append(x)
        ys.append(y_name)
        sides.append("middle right" if flag.right else "middle left")
    staff = {
        **_still(y, "lines"),
        "x": staffs_x,
        "y": staffs_y,
        "line": {"color": NEUTRAL, "width": 1},
    }
    text = {
        **_still(y, "text"),
        "x": xs,
        "y": ys,
        "text": names,
        "textposition": sides,
        "textfont": {"size": SIZE},
    }
    return [staff, text]


def _numbers(f: Frame, y: str) -> Spec:
    """The numbers of the axis again, under the first panel: the axis itself is far below."""
    at = evenly(0.0, f.last, f.step, f.width).tolist()
    return {
        **_still(y, "text"),
        "x": at,
        "y": [0.0] * len(at),
        "text": [f"{x:g}" for x in at],
        "textposition": "bottom center",
        "textfont": {"size": SIZE - 1, "color": SOFT},
    }


def _tops(readings: Sequence[Reading], f: Frame, y: str) -> Spec:
    """Top speed of each setup, where its force meets the road load."""
    able = [r for r in readings if r.curve.starts]
    roads = [float(np.interp(r.curve.top, r.curve.speed, r.curve.road)) for r in able]
    return {
        **_still(y, "markers"),
        "x": [r.curve.top * speed_factor(f.unit) for r in able],
        "y": roads,
        "text": [f"{plot_safe(r.name)}: top speed {speed(r.curve.top, f.unit)}" for r in able],
        "marker": {
            "symbol": [mark(r.slot).symbol for r in able],
            "color": [mark(r.slot).colour for r in able],
            "size": 15,
            "line": {"width": 2, "color": CARD},
        },
        "meta": "top",
    }


def _still(y: str, mode: str) -> Spec:
    """A trace that is only looked at."""
    return {
        "type": "scatter",
        "mode": mode,
        "yaxis": y,
        "hoverinfo": "skip",
        "showlegend": False,
        "cliponaxis": False,
    }


def _last(values: Array) -> int:
    """The last speed with a value; 0 if there is none."""
    there = np.flatnonzero(np.isfinite(values))
    return int(there[-1]) if there.size else 0


def _finite(value: Any) -> float:
    return float(value) if math.isfinite(value) else 0.0
