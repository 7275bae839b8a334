"""Lines of setups in panels one above the other over one axis, each named at its end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from dashboard.base.theme import NEUTRAL, faint, mark
from dashboard.base.words import plot_safe
from dashboard.figures import end_names
from dashboard.figures.end_names import End
from dashboard.figures.spec import (
    CARD,
    CHARACTER,
    SIZE,
    SOFT,
    Spec,
    axis,
    finite_max,
    layout,
    note,
    packed,
    round_up,
    titled,
)

LEFT, TOP, BOTTOM, GAP = 58, 34, 48, 44
WIDE = 700
FLAT = 0.2
"""Lines that change by a smaller share of their panel stand in its middle, not at its foot."""


class Line(NamedTuple):
    """A setup's line: where it stands in the page, its name, and its points."""

    slot: int
    name: str
    x: Any
    y: Any


class Level(NamedTuple):
    """A value marked across a panel, with a name."""

    value: float
    name: str


class Panel(NamedTuple):
    """A quantity: its title, its unit, its height in px and the setups' lines."""

    title: str
    unit: str
    height: int
    lines: Sequence[Line]
    levels: Sequence[Level] = ()
    zero: bool = True


class _Room(NamedTuple):
    """A panel: where it begins, px per unit, px all across, its foot, height, units per px up."""

    first: float
    scale: float
    across: float
    low: float
    height: float
    unit: float


def build(
    panels: Sequence[Panel], across: str, last: float, width: int, first: float = 0.0
) -> Spec:
    """The whole figure.

    Args:
        panels: From the top down.
        across: Title of the shared axis, with its unit.
        last: Where the axis ends.
        width: Of the figure, px.
        first: Where it begins.
    """
    narrow = width < WIDE
    names = [len(plot_safe(line.name, 30)) for p in panels for line in p.lines]
    right = 16 if narrow else min(math.ceil(max([*names, 8]) * CHARACTER + 14), 210)
    heights = [p.height for p in panels]
    total = TOP + BOTTOM + sum(heights) + GAP * (len(panels) - 1)
    inner = float(total - TOP - BOTTOM)
    put = layout(total, LEFT, right, TOP, BOTTOM)
    scale = max(width - LEFT - right, 120.0) / max(last - first, 1e-9)
    data: list[Spec] = []
    down = 0.0
    for place, panel in enumerate(panels, start=1):
        number = "" if place == 1 else str(place)
        low, high = _range(panel)
        data += [_line(line, panel, f"y{number}") for line in panel.lines]
        room = _Room(
            first,
            scale,
            (last - first) * scale + right,
            low,
            panel.height,
            (high - low) / panel.height,
        )
        data += _ends(panel, f"y{number}", room, named=place == 1 or not narrow)
        top, bottom = 1 - down / inner, 1 - (down + panel.height) / inner
        put[f"yaxis{number}"] = axis(
            domain=[max(bottom, 0.0), top],
            anchor="x",
            fixedrange=True,
            range=[low, high],
            nticks=7 if panel.height > 200 else 4,
            separatethousands=True,
            visible=_drawn(panel),
        )
        title = f"<b>{panel.title}</b>" + (f", {panel.unit}" if panel.unit else "")
        put["annotations"].append(
            note(title, x=0, y=top, xanchor="left", yanchor="bottom", yshift=8, xshift=4 - LEFT)
        )
        put["shapes"] += [_level(x.value, f"y{number}") for x in panel.levels]
        put["annotations"] += [_level_name(x, f"y{number}") for x in panel.levels]
        down += panel.height + GAP
    put["xaxis"] = axis(
        range=[first, last],
        title=titled(across),
        anchor="y" if len(panels) == 1 else f"y{len(panels)}",
        fixedrange=narrow,
        nticks=5 if narrow else 12,
        visible=any(map(_drawn, panels)),
        unifiedhovertitle={"text": f"%{{x:,.1f}} {across.rsplit(', ', 1)[-1]}"},
    )
    put["meta"] = {"across": (last - first) * scale}
    if narrow:
        put["dragmode"] = False
    return {"data": data, "layout": put}


def _drawn(panel: Panel) -> bool:
    """Whether there is anything to read an axis for."""
    return any(np.isfinite(line.y).any() for line in panel.lines)


def _range(panel: Panel) -> tuple[float, float]:
    values = [line.y for line in panel.lines] + [np.array([x.value for x in panel.levels])]
    high = round_up(1.06 * finite_max(values))
    low = -finite_max([-np.asarray(v, dtype=float) for v in values if np.size(v)])
    if not panel.zero and low > 0:
        most = finite_max(values)
        if most - low < FLAT * (high - low):
            return max(low + most - high, 0.0), high
        return low - 0.08 * (high - low), high
    return (0.0, high) if low >= 0 else (-round_up(-1.06 * low), max(high, 0.0))


def _line(line: Line, panel: Panel, y: str) -> Spec:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": plot_safe(line.name, 40),
        "x": packed(line.x),
        "y": packed(line.y),
        "yaxis": y,
        "line": {"color": mark(line.slot).colour, "width": 2.4},
        "hovertemplate": f"%{{y:,.1f}} {panel.unit}",
    }


def _ends(panel: Panel, y: str, room: _Room, *, named: bool) -> list[Spec]:
    """Markers along the lines and at their ends, and the names there, on staffs of their own."""
    scale, across = room.scale, room.across
    still = {
        "type": "scatter",
        "yaxis": y,
        "hoverinfo": "skip",
        "showlegend": False,
        "cliponaxis": False,
    }
    ends = [_last(line) for line in panel.lines]
    there = [(line, k) for line, k in zip(panel.lines, ends, strict=True) if k is not None]
    x, values, slots, sizes = [], [], [], []
    for order, (line, k) in enumerate(there):
        inner = np.linspace(0, k, 6)[1:-1] - order * k / (6 * len(there))
        for at in (*inner.astype(int), k):
            x.append(float(line.x[at]))
            values.append(float(line.y[at]))
            slots.append(line.slot)
            sizes.append(9 if at == k else 7)
    marks = {
        **still,
        "mode": "markers",
        "x": x,
        "y": values,
        "marker": {
            "symbol": [mark(s).symbol for s in slots],
            "color": [mark(s).colour for s in slots],
            "size": sizes,
            "line": {"width": 1, "color": CARD},
        },
    }
    if not named:
        return [marks]
    names = [plot_safe(line.name, 22 if across < WIDE else 30) for line, _ in there]
    low, unit = room.low, room.unit

    def px(line: Line) -> tuple[Any, Any]:
        return (np.asarray(line.x) - room.first) * scale, (np.asarray(line.y) - low) / unit

    drawn = [px(line) for line, _ in there]
    found = zip(drawn, there, names, strict=True)
    spots = end_names.place(
        [End(x[k], y[k], len(name) * CHARACTER + 14) for (x, y), (_, k), name in found],
        drawn,
        across,
        room.height,
    )
    feet = [(float(line.x[k]), float(line.y[k])) for line, k in there]
    heights = [low + up * unit for up, _ in spots]
    staffs: tuple[list[float | None], list[float | None]] = ([], [])
    for (x_end, y_end), up in zip(feet, heights, strict=True):
        staffs[0].extend((x_end, x_end, None))
        staffs[1].extend((y_end, up, None))
    return [
        marks,
        {**still, "mode": "lines", "x": staffs[0], "y": staffs[1],
         "line": {"color": NEUTRAL, "width": 1}},
        {**still, "mode": "text", "x": [x for x, _ in feet], "y": heights,
         "text": [f"\u2002{name}\u2002" for name in names],
         "textposition": ["middle right" if right else "middle left" for _, right in spots],
         "textfont": {"size": SIZE}},
    ]  # fmt: skip


def _last(line: Line) -> int | None:
    there = np.flatnonzero(np.isfinite(np.asarray(line.x) + np.asarray(line.y)))
    return int(there[-1]) if there.size else None


def _level(value: float, y: str) -> Spec:
    return {
        "type": "line",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "yref": y,
        "y0": value,
        "y1": value,
        "line": {"color": NEUTRAL, "width": 1.4, "dash": "2px,4px"},
    }


def _level_name(level: Level, y: str) -> Spec:
    return note(
        plot_safe(level.name, 60),
        yref=y,
        x=0.005,
        y=level.value,
        xanchor="left",
        yanchor="bottom",
        font={"size": SIZE - 1, "color": SOFT},
        bgcolor=CARD,
        borderpad=0,
    )


def whole(value: float) -> float:
    """The end of an axis that holds a value."""
    return round_up(value) if math.isfinite(value) and value > 0 else 1.0


def band(figure: Spec, slot: int, x: Any, low: Any, high: Any) -> None:
    """Lay a setup's band behind the lines of the first panel.

    Args:
        figure: As ``build`` made it; changed in place.
        slot: The setup's.
        x: Along the axis.
        low: Lower edge.
        high: Upper edge.
    """
    figure["data"].insert(
        0,
        {
            "type": "scatter",
            "mode": "lines",
            "x": packed(np.concatenate((x, x[::-1]))),
            "y": packed(np.concatenate((high, low[::-1]))),
            "fill": "toself",
            "fillcolor": faint(mark(slot).colour, 0.18),
            "line": {"width": 0},
            "hoverinfo": "skip",
        },
    )
