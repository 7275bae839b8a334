"""The first page's plots: quantities one above the other over one axis of road speed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence

from dashboard.answers.setups import Comparison, Reading
from dashboard.base.theme import NEUTRAL
from dashboard.base.words import number, speed_factor
from dashboard.figures.spec import SIZE, SOFT, Spec, axis, layout, note, titled
from dashboard.pages.which_pack.figure_panel_traces import panel_traces
from dashboard.pages.which_pack.figure_scale import (
    BOTTOM,
    GAP,
    LEFT,
    NUMBERS,
    TOP,
    Frame,
    Panel,
    Road,
    frame,
    lines_of,
    panels_of,
    top_of,
)
from dashboard.pages.which_pack.figure_strips import ROW, band_height, band_traces

__all__ = ["Frame", "Road", "build", "frame", "lines_of", "moving", "panels_of", "structure"]


def structure(
    compared: Comparison, roads: Sequence[Road], pinned: Sequence[float], f: Frame
) -> str:
    """Tells figures apart into which what moves cannot be put; a figure has it in its ``meta``."""
    rows = [[r.slot, r.name] for r in compared.shown]
    shown = [p.key for p in panels_of(compared.shown, f.keys)]
    parts = [rows, shown, [r.name for r in roads], len(pinned), f.width, f.unit]
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()[:16]


def build(compared: Comparison, roads: Sequence[Road], pinned: Sequence[float], f: Frame) -> Spec:
    """The whole figure.

    Args:
        compared: The setups.
        roads: Road-load lines of the force panel.
        pinned: Speeds marked in every panel, km/h.
        f: Size and scale.
    """
    readings = compared.shown
    shown = panels_of(readings, f.keys)
    heights = [p.height or band_height(readings, f) for p in shown]
    total = TOP + BOTTOM + sum(heights) + GAP * (len(shown) - 1) + NUMBERS
    inner = float(total - TOP - BOTTOM)
    figure: Spec = {
        "data": traces(compared, roads, f),
        "layout": layout(total, LEFT, f.right, TOP, BOTTOM),
    }
    put = figure["layout"]
    put["annotations"], put["shapes"] = _pin_notes(pinned, f), _pin_lines(pinned, f)
    put["meta"] = {"made": structure(compared, roads, pinned, f), "last": f.last}
    put["xaxis"] = axis(
        range=[0, f.last],
        title=titled(f"road speed, {f.unit}"),
        anchor=f"y{len(shown)}",
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
    for place, (panel, height) in enumerate(zip(shown, heights, strict=True), start=1):
        top, bottom = 1 - down / inner, 1 - (down + height) / inner
        name = f"yaxis{'' if place == 1 else place}"
        put[name] = _y_axis(panel, readings, (max(bottom, 0.0), top), f)
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
    if f.narrow:
        put["dragmode"] = False
    return figure


def traces(compared: Comparison, roads: Sequence[Road], f: Frame) -> list[Spec]:
    """Every trace, always in the same order for the same structure."""
    readings = compared.shown
    data: list[Spec] = []
    for place, panel in enumerate(panels_of(readings, f.keys), start=1):
        y = "y" if place == 1 else f"y{place}"
        if panel.key == "limits":
            data += band_traces(readings, f, y)
        else:
            data += panel_traces(panel, readings, roads, f, y)
    return data


def moving(data: Sequence[Spec]) -> list[Spec]:
    """Of every trace what changes when a number of the same setups does.

    Args:
        data: A figure's traces.
    """
    kept = ("x", "y", "text", "base", "width", "textposition", "textfont", "customdata", "marker")
    return [{key: trace[key] for key in kept if key in trace} for trace in data]


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
        range=[0, top_of(panel, readings)],
        separatethousands=True,
    )


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
