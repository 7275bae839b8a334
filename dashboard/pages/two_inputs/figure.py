"""A result over two inputs: contours in ink, and regions told apart by pattern and name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dashboard.base.theme import NEUTRAL, faint, mark
from dashboard.base.words import plot_safe
from dashboard.figures.spec import CARD, CHARACTER, SIZE, Spec, axis, layout, note, packed, titled

Array = NDArray[np.float64]

HEIGHT, LEFT, BOTTOM, TOP = 520, 62, 50, 14
NARROW = 700
PATTERNS = ("", "/", ".", "\\", "|", "x", "-", "+")
NAMED = 0.02
"""Share of the map below which a region has no room for its name."""
LEVELS = 11


class Region(NamedTuple):
    """A part of the map: its name, and which cells are in it, shape (y, x)."""

    name: str
    cells: NDArray[np.bool_]


class Point(NamedTuple):
    """A setup on the map."""

    slot: int
    name: str
    x: float
    y: float


def build(
    x: Array,
    y: Array,
    values: Array,
    regions: Sequence[Region],
    titles: tuple[str, str, str],
    point: Point,
    width: int,
) -> Spec:
    """The map.

    Args:
        x: Values across.
        y: Values upwards.
        values: The result, shape (y, x), NaN where there is none.
        regions: Parts of the map, together all of it.
        titles: Of x, of y, and of the result, each with its unit.
        point: The setup as it is.
        width: Of the figure, px.
    """
    edges = _edges(x), _edges(y)
    drawn = sorted(regions, key=lambda r: -int(r.cells.sum()))
    fills = [_fill(r, PATTERNS[k % len(PATTERNS)], *edges) for k, r in enumerate(drawn)]
    put = layout(HEIGHT, LEFT, 16, TOP, BOTTOM)
    put["hovermode"] = "closest"
    for name, title, ends in (("xaxis", titles[0], x), ("yaxis", titles[1], y)):
        put[name] = axis(
            range=[float(ends[0]), float(ends[-1])],
            title=titled(plot_safe(title, 60)),
            fixedrange=True,
            nticks=6 if width < NARROW and name == "xaxis" else 10,
            showgrid=False,
        )
    put["annotations"] = _names(drawn, x, y, point, width)
    data = [*fills, _outlines(drawn, *edges), _contours(x, y, values, drawn, titles)]
    return {"data": [*data, _mark(point)], "layout": put}


def _edges(values: Array) -> Array:
    """Where cells about values begin and end."""
    middle = (values[1:] + values[:-1]) / 2
    return np.concatenate((values[:1], middle, values[-1:]))


def _fill(region: Region, pattern: str, across: Array, up: Array) -> Spec:
    xs: list[float | None] = []
    ys: list[float | None] = []
    for row, cells in enumerate(region.cells):
        low, high = float(up[row]), float(up[row + 1])
        for start, end in _runs(cells):
            left, right = float(across[start]), float(across[end])
            xs += [left, right, right, left, left, None]
            ys += [low, low, high, high, low, None]
    return {
        "type": "scatter",
        "mode": "lines",
        "x": xs,
        "y": ys,
        "fill": "toself",
        "fillcolor": faint(NEUTRAL, 0.0),
        "fillpattern": {
            "shape": pattern,
            "fgcolor": NEUTRAL,
            "fgopacity": 0.4,
            "bgcolor": faint(NEUTRAL, 0.0),
            "size": 11,
            "solidity": 0.12,
        },
        "line": {"width": 0},
        "name": plot_safe(region.name, 60),
        "hoverinfo": "skip",
    }


def _runs(cells: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Begin and end of each run of cells in a row."""
    steps = np.flatnonzero(np.diff(np.concatenate(([0], cells.astype(np.int8), [0]))))
    return [(int(a), int(b)) for a, b in steps.reshape(-1, 2)]


def _outlines(regions: Sequence[Region], across: Array, up: Array) -> Spec:
    place = np.zeros(regions[0].cells.shape, dtype=np.intp)
    for k, region in enumerate(regions):
        place[region.cells] = k
    xs: list[float | None] = []
    ys: list[float | None] = []
    for row, column in np.argwhere(np.diff(place, axis=1)):
        at = float(across[column + 1])
        xs += [at, at, None]
        ys += [float(up[row]), float(up[row + 1]), None]
    for row, column in np.argwhere(np.diff(place, axis=0)):
        at = float(up[row + 1])
        xs += [float(across[column]), float(across[column + 1]), None]
        ys += [at, at, None]
    line = {"color": NEUTRAL, "width": 2}
    return {"type": "scatter", "mode": "lines", "x": xs, "y": ys, "line": line, "hoverinfo": "skip"}


def _contours(
    x: Array, y: Array, values: Array, regions: Sequence[Region], titles: tuple[str, str, str]
) -> Spec:
    names = np.empty(values.shape, dtype=object)
    for region in regions:
        names[region.cells] = plot_safe(region.name, 60)
    across, up, result = (plot_safe(title, 60) for title in titles)
    return {
        "type": "contour",
        "x": packed(x),
        "y": packed(y),
        "z": [[None if np.isnan(v) else float(v) for v in row] for row in values],
        "text": names.tolist(),
        "contours": {"coloring": "none", "showlabels": True, "labelfont": {"size": SIZE}},
        "ncontours": LEVELS,
        "line": {"color": NEUTRAL, "width": 1.4, "smoothing": 0.6},
        "showscale": False,
        "hovertemplate": f"{across}: %{{x:,.4~g}}<br>{up}: %{{y:,.4~g}}<br>"
        f"{result}: %{{z:,.1f}}<br>%{{text}}<extra></extra>",
    }


def _names(regions: Sequence[Region], x: Array, y: Array, point: Point, width: int) -> list[Spec]:
    """The name of each region with room for it, furthest from its edge and off the setup.

    Contours lie closer than a name is wide, so names stand on paper of their own.
    """
    named = [r for r in regions if r.cells.mean() >= NAMED]
    across = max(width - LEFT - 16, 100)
    beside = np.abs(x - point.x) < 0.2 * (x[-1] - x[0])
    near = beside & (np.abs(y - point.y) < 0.15 * (y[-1] - y[0]))[:, None]
    made = []
    for region in named:
        clear = region.cells & ~near
        row, column = _inmost(clear if clear.any() else region.cells)
        start, end = next(run for run in _runs(region.cells[row]) if run[0] <= column < run[1])
        room = (end - start) / x.size * across / CHARACTER
        text = _wrapped(plot_safe(region.name, 60), int(np.clip(room - 1, 8, 24)))
        half = max(map(len, text.split("<br>"))) * CHARACTER / 2 / across
        at = np.clip((x[column] - x[0]) / (x[-1] - x[0]), half, 1 - half)
        made.append(
            note(text, xref="x", yref="y", x=float(x[0] + at * (x[-1] - x[0])), y=float(y[row]),
                 bgcolor=CARD, borderpad=3)
        )  # fmt: skip
    return made


def _inmost(cells: NDArray[np.bool_]) -> tuple[int, int]:
    """The cell whose nearest neighbour of another region, or border, is furthest."""
    ringed = np.pad(cells, 1)
    inside, beyond = np.argwhere(cells), np.argwhere(~ringed) - 1
    scale = np.array(cells.shape, dtype=float)
    away = [np.min(np.sum(((beyond - cell) / scale) ** 2, axis=1)) for cell in inside]
    row, column = inside[int(np.argmax(away))]
    return int(row), int(column)


def _wrapped(text: str, most: int) -> str:
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + len(word) >= most:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return "<br>".join(lines)


def _mark(point: Point) -> Spec:
    m = mark(point.slot)
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [point.x],
        "y": [point.y],
        "marker": {"symbol": m.symbol, "color": m.colour, "size": 15, "line": {"width": 1}},
        "hovertemplate": f"{plot_safe(point.name)}, as it is<extra></extra>",
        "cliponaxis": False,
    }


def unnamed(regions: Sequence[Region]) -> list[str]:
    """Names of the regions that are too small to carry them."""
    return [r.name for r in regions if 0 < r.cells.mean() < NAMED]
