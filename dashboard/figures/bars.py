"""Shares as bars, the largest on top, each with its name and its percent."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from dashboard.base.theme import NEUTRAL, mark
from dashboard.base.words import number, plot_safe
from dashboard.figures.spec import CHARACTER, SIZE, Spec, axis, layout, note

MOST = 10
ROW, TOP, BOTTOM, RIGHT, NARROW = 30, 26, 16, 46, 700
BESIDE = 14
"""Between a bar or a mark and its percent, both sides, and what the page may be wider, px."""
LINE = 8
"""What a second line of a name adds to every row, px."""


def build(slot: int, bars: Sequence[tuple[str, float]], width: int, whole: str = "") -> Spec:
    """The figure.

    Args:
        slot: The setup it is about.
        bars: Names and shares, 0 to 1, the largest first.
        width: Of the figure, px.
        whole: What the mark at a share of 1 is called; empty for no mark.
    """
    most_letters = 22 if width < NARROW else 44
    lines = [textwrap.wrap(name, most_letters)[:2] or [""] for name, _ in bars]
    names = ["<br>".join(plot_safe(line, most_letters) for line in some) for some in lines]
    left = int(max([len(line) for some in lines for line in some] or [8]) * CHARACTER + 16)
    row = ROW + LINE * any(len(some) > 1 for some in lines)
    put = layout(TOP + BOTTOM + row * max(len(bars), 3), left, RIGHT, TOP, BOTTOM)
    put["hovermode"] = "closest"
    put["bargap"] = 0.35
    most = max([share for _, share in bars] + ([1.1] if whole else [1e-9]))
    put["xaxis"] = axis(range=[0, most], showticklabels=False, showgrid=False, fixedrange=True)
    put["yaxis"] = axis(autorange="reversed", fixedrange=True, showgrid=False, type="category")
    if whole:
        put["shapes"].append(
            {"type": "line", "xref": "x", "x0": 1, "x1": 1, "yref": "paper", "y0": 0, "y1": 1,
             "line": {"color": NEUTRAL, "width": 1.6, "dash": "2px,4px"}}
        )  # fmt: skip
        put["annotations"].append(
            note(whole, xref="x", x=1, y=1, xanchor="right", yanchor="bottom")
        )
    said = [f"{number(100 * share, 1 if share < 0.1 else 0)} %" for _, share in bars]
    scale = (width - left - RIGHT) / most
    crossing = [
        bool(whole) and share < 1 < share + (len(text) * CHARACTER + BESIDE) / scale
        for (_, share), text in zip(bars, said, strict=True)
    ]
    beyond = [(name, text) for name, text, over in zip(names, said, crossing, strict=True) if over]
    return {
        "data": [
            {
                "type": "bar",
                "orientation": "h",
                "x": [share for _, share in bars],
                "y": names,
                "text": said,
                "textposition": ["none" if over else "outside" for over in crossing],
                "textfont": {"size": SIZE},
                "cliponaxis": False,
                "marker": {"color": mark(slot).colour},
                "hovertemplate": "%{y}: %{text}<extra></extra>",
            },
            # What would stand on the mark stands behind it.
            {
                "type": "scatter",
                "mode": "text",
                "x": [1.0 for _ in beyond],
                "y": [name for name, _ in beyond],
                "text": [f"\u2002{text}" for _, text in beyond],
                "textposition": "middle right",
                "textfont": {"size": SIZE},
                "cliponaxis": False,
                "hoverinfo": "skip",
            },
        ],
        "layout": put,
    }
