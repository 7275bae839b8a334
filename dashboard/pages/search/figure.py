"""What a search found: every setup tried, those that meet the goals, and the front of them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dashboard.base.theme import NEUTRAL, faint, mark
from dashboard.base.words import plot_safe
from dashboard.figures.spec import SIZE, Spec, axis, layout, packed, titled

Array = NDArray[np.float64]
HEIGHT, LEFT, BOTTOM, TOP, NARROW = 440, 62, 50, 34, 700
MOST = 1500
"""Setups drawn of those that are not on the front: more only slow the browser."""


class Own(NamedTuple):
    """The setup the search started from: its place on the page, its name, and where it lies."""

    slot: int
    name: str
    x: float
    y: float


def build(
    x: Array,
    y: Array,
    meets: NDArray[np.bool_],
    front: NDArray[np.bool_],
    titles: tuple[str, str],
    own: Own,
    width: int,
) -> Spec:
    """The figure.

    Args:
        x: A result of every setup tried, shape (setups,).
        y: Another.
        meets: Which keep every goal.
        front: Which of those no other beats.
        titles: Of x and y, each with its unit.
        own: The setup started from.
        width: Of the figure, px.
    """
    put = layout(HEIGHT, LEFT, 16, TOP, BOTTOM)
    put["hovermode"] = "closest"
    put["showlegend"] = True
    put["legend"] = {
        "orientation": "h",
        "x": 0,
        "y": 1.0,
        "yanchor": "bottom",
        "font": {"size": SIZE},
        "itemclick": False,
        "itemdoubleclick": False,
    }
    for name, title in zip(("xaxis", "yaxis"), titles, strict=True):
        put[name] = axis(
            title=titled(plot_safe(title, 60)),
            nticks=6 if width < NARROW else 10,
            fixedrange=width < NARROW,
        )
    hover = "%{x:,.4~g}, %{y:,.4~g}<extra></extra>"
    groups = (
        ("misses a goal", _some(~meets), {"size": 4, "color": faint(NEUTRAL, 0.55)}),
        ("meets every goal", _some(meets & ~front), {"size": 8, "color": NEUTRAL}),
    )
    data = [
        {
            "type": "scatter",
            "mode": "markers",
            "name": name,
            "x": packed(x[rows]),
            "y": packed(y[rows]),
            "marker": marker,
            "hovertemplate": hover,
        }
        for name, rows, marker in groups
    ]
    order = np.flatnonzero(front)
    order = order[np.argsort(x[order])]
    best = {
        "type": "scatter",
        "mode": "markers",
        "name": "on the front",
        "x": packed(x[order]),
        "y": packed(y[order]),
        "marker": {"symbol": "star", "size": 16, "color": NEUTRAL},
        "hovertemplate": hover,
    }
    m = mark(own.slot)
    start = {
        "type": "scatter",
        "mode": "markers",
        "name": plot_safe(own.name),
        "x": [own.x],
        "y": [own.y],
        "marker": {"symbol": m.symbol, "size": 13, "color": m.colour, "line": {"width": 1}},
        "hovertemplate": f"{plot_safe(own.name)}, as it is<extra></extra>",
    }
    return {"data": [*data, best, start], "layout": put}


def _some(chosen: NDArray[np.bool_]) -> NDArray[np.intp]:
    rows = np.flatnonzero(chosen)
    return rows[:: max(1, -(-rows.size // MOST))]
