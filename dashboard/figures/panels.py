"""The first page's plots: quantities one above the other over one axis of road speed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np

from dashboard.figures import flags
from dashboard.figures.bands import ROW, band_height, band_traces
from dashboard.figures.spec import (
    CARD,
    CHARACTER,
    GRID,
    SIZE,
    SOFT,
    Spec,
    axis,
    finite_max,
    layout,
    note,
    packed,
    round_up,
)
from dashboard.results import Array, Comparison, Curve, Reading
from dashboard.text import number, plot_safe, speed, speed_factor
from dashboard.theme import NEUTRAL, mark

LEFT, TOP, BOTTOM = 52, 48, 46
WIDE = 600
"""From here on names may stand beside the plots, px."""
GAP = 44
"""Between panels, room for the title of the lower one, px."""
NUMBERS = 18
"""More room below the first panel, for the numbers of its axis, px."""


class Panel(NamedTuple):
    """A quantity with a panel of its own."""

    key: str
    title: str
    unit: str
    height: int
    read: Callable[[Curve], Array]


class Road(NamedTuple):
    """A road-load line: its name, and its force over speed (km/h, N)."""

    name: str
    speed: Array
    force: Array


PANELS = (
    Panel("force", "Force at the rim", "N", 330, lambda c: c.force),
    Panel("limits", "What limits it", "", 0, lambda c: c.force),
    Panel("rim-power", "Power at the rim", "W", 170, lambda c: c.rim_power),
    Panel("pack-power", "Power from the pack", "W", 170, lambda c: c.pack_power),
    Panel("pack-current", "Pack current", "A", 150, lambda c: c.pack_current),
    Panel("phase-current", "Phase current, peak", "A", 150, lambda c: c.phase_current),
)
LINES = tuple(p for p in PANELS if p.key != "limits")


class Frame(NamedTuple):
    """The size and scale that all panels share."""

    width: int
    last: float
    unit: str

    @property
    def narrow(self) -> bool:
        """Whether there is no room beside the plots."""
        return self.width < WIDE

    @property
    def right(self) -> int:
        """Margin beside the plots, room for names, px."""
        return 16 if self.narrow else 132

    @property
    def across(self) -> float:
        """Width of the plots, px."""
        return max(self.width - LEFT - self.right, 120.0)

    @property
    def last_kmh(self) -> float:
        """The end of the axis, km/h."""
        return self.last / speed_factor(self.unit)

    @property
    def step(self) -> float:
        """Between numbers on the axis of speed."""
        return next(
            s
            for s in (5.0, 10.0, 20.0, 50.0, 100.0)
            if self.last / s * 46 <= self.across or s == 100
        )

    def px(self, kmh: float) -> float:
        """A road speed in px from the left edge."""
        return kmh * speed_factor(self.unit) / self.last * self.across


def frame(readings: Sequence[Reading], width: int, unit: str) -> Frame:
    """Size and scale for some setups.

    Args:
        readings: The setups drawn.
        width: Of the figure, px.
        unit: ``km/h`` or ``mph``.
    """
    end = max((r.curve.end for r in readings), default=50.0) * speed_factor(unit)
    return Frame(width, float(math.ceil(end * 1.02 / 5) * 5), unit)


def structure(
    compared: Comparison, roads: Sequence[Road], pinned: Sequence[float], f: Frame
) -> Any:
    """What must be equal for a figure to be patched instead of built anew."""
    rows = [[r.slot, r.name] for r in compared.shown]
    height = band_height(compared.shown, f)
    return [rows, [r.name for r in roads], list(pinned), f.width, f.unit, height]


def build(compared: Comparison, roads: Sequence[Road], pinned: Sequence[float], f: Frame) -> Spec:
    """The whole figure.

    Args:
        compared: The setups.
        roads: Road-load lines of the force panel.
        pinned: Speeds marked in every panel, km/h.
        f: Size and scale.
    """
    readings = compared.shown
    heights = _heights(readings, f)
    total = TOP + BOTTOM + sum(heights) + GAP * (len(PANELS) - 1) + NUMBERS
    inner = float(total - TOP - BOTTOM)
    figure = {
        "data": traces(compared, roads, f),
        "layout": layout(total, LEFT, f.right, TOP, BOTTOM),
    }
    put = figure["layout"]
    put.update(_moving(readings, f))
    put["xaxis"] = axis(
        range=[0, f.last],
        title={"text": f"road speed, {f.unit}", "font": {"color": SOFT}, "standoff": 8},
        anchor="y6",
        fixedrange=f.narrow,
        showspikes=True,
        spikemode="across",
        spikesnap="cursor",
        spikethickness=1,
        spikedash="solid",
        spikecolor=NEUTRAL,
        unifiedhovertitle={"text": f"%{{x:.1f}} {f.unit}"},
        dtick=f.step,
    )
    down = 0.0
    for place, (panel, height) in enumerate(zip(PANELS, heights, strict=True), start=1):
        top, bottom = 1 - down / inner, 1 - (down + height) / inner
        name = f"yaxis{'' if place == 1 else place}"
        put[name] = {**put.get(name, {}), **_y_axis(panel, readings, (max(bottom, 0.0), top), f)}
        title = f"<b>{panel.title}</b>" + (f", {panel.unit}" if panel.unit else "")
        put["annotations"].append(
            note(
                title,
                x=0,
                y=top,
                xanchor="left",
                yanchor="bottom",
                # The first one stands above the pinned speeds.
                yshift=24 if place == 1 else 8,
                xshift=-LEFT + 4,
            )
        )
        down += height + GAP + (NUMBERS if place == 1 else 0)
    put["annotations"] += _pin_notes(pinned, f)
    put["shapes"] = _pin_lines(pinned, f)
    if f.narrow:
        put["dragmode"] = False
    return figure


def traces(compared: Comparison, roads: Sequence[Road], f: Frame) -> list[Spec]:
    """Every trace, always in the same order for the same structure."""
    readings = compared.shown
    data: list[Spec] = []
    for place, panel in enumerate(PANELS, start=1):
        if panel.key == "limits":
            data += band_traces(readings, f, f"y{place}")
            continue
        y = "y" if place == 1 else f"y{place}"
        if panel.key == "force":
            data += _roads(roads, f, y, _top_of(panel, readings))
        data += [_line(r, panel, f, y) for r in readings]
        data += [_marks(readings, panel, f, y), *_flags(readings, panel, f, y)]
        if panel.key == "force":
            data += [_tops(readings, f, y), _numbers(f, y)]
    return data


def moving(compared: Comparison, roads: Sequence[Road], f: Frame) -> tuple[list[Spec], Spec]:
    """What changes when a number of the same setups does: by trace, and in the layout."""
    kept = ("x", "y", "text", "base", "textposition", "customdata", "marker")
    changes = [
        {key: trace[key] for key in kept if key in trace} for trace in traces(compared, roads, f)
    ]
    return changes, _moving(compared.shown, f)


def _moving(readings: Sequence[Reading], f: Frame) -> Spec:
    ranges: Spec = {"xaxis": {"range": [0, f.last], "dtick": f.step}}
    for place, panel in enumerate(PANELS, start=1):
        if panel.key != "limits":
            name = f"yaxis{'' if place == 1 else place}"
            ranges[name] = {"range": [0, _top_of(panel, readings)]}
    return ranges


def _heights(readings: Sequence[Reading], f: Frame) -> list[int]:
    return [p.height or band_height(readings, f) for p in PANELS]


def _y_axis(
    panel: Panel, readings: Sequence[Reading], domain: tuple[float, float], f: Frame
) -> Spec:
    shared = {"domain": list(domain), "anchor": "x", "fixedrange": True}
    if panel.key == "limits":
        rows = band_height(readings, f) / ROW
        return axis(**shared, range=[rows - 0.5, -0.5], showticklabels=False, showgrid=False)
    return axis(
        **shared,
        nticks=7 if panel.height > 200 else 4,
        range=[0, _top_of(panel, readings)],
        separatethousands=True,
    )


def _top_of(panel: Panel, readings: Sequence[Reading]) -> float:
    return round_up(1.04 * finite_max([panel.read(r.curve) for r in readings]))


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
    apart = f.last / speed_factor(f.unit) / 5
    for order, r in enumerate(readings):
        first = apart * (order + 0.5) / len(readings)
        wanted = np.arange(first, r.curve.end, apart)
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
    names = [plot_safe(r.name, 22 if f.narrow else 30) for r in readings]
    last = [_last(panel.read(r.curve)) for r in readings]
    feet = [float(r.curve.speed[k]) for r, k in zip(readings, last, strict=True)]
    widths = [len(name) * CHARACTER + 4 for name in names]
    placed = flags.place([f.px(x) for x in feet], widths, f.across + f.right)
    unit_px = _top_of(panel, readings) / panel.height
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
    at = [float(x) for x in np.arange(0.0, f.last + 1e-9, f.step)]
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
    able = [r for r in readings if math.isfinite(r.curve.top)]
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


def _pin_lines(pinned: Sequence[float], f: Frame) -> list[Spec]:
    return [
        {
            "type": "line",
            "xref": "x",
            "yref": "paper",
            "x0": kmh * speed_factor(f.unit),
            "x1": kmh * speed_factor(f.unit),
            "y0": 0,
            "y1": 1,
            "layer": "below",
            "line": {"color": NEUTRAL, "width": 1, "dash": "2px,4px"},
        }
        for kmh in pinned
    ]


def _pin_notes(pinned: Sequence[float], f: Frame) -> list[Spec]:
    return [
        note(
            f"{number(kmh * speed_factor(f.unit), 0 if f.unit == 'km/h' else 1)} {f.unit}",
            xref="x",
            x=kmh * speed_factor(f.unit),
            y=1,
            yanchor="bottom",
            yshift=4,
            font={"size": SIZE - 1, "color": SOFT},
        )
        for kmh in pinned
    ]


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


__all__ = ["GRID", "LINES", "PANELS", "Frame", "Road", "build", "frame", "moving", "structure"]
