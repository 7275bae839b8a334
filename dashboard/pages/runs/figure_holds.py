"""What holds each setup back along its run: a band a setup over time, in words and hatching."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import NamedTuple

from dashboard.base.theme import faint, mark
from dashboard.base.words import plot_safe
from dashboard.figures.limit_strips import HATCHING, said
from dashboard.figures.lines import LEFT, WIDE
from dashboard.figures.spec import CHARACTER, SIZE, Spec, axis, layout, packed, titled
from dashboard.pages.runs.study import Run

ROW, TOP, BOTTOM, RIGHT = 50, 10, 48, 16
"""Of a setup, above and below all, and to their right, px."""
BAR, CENTRE, NAME = 0.42, 0.16, -0.27
"""Height of a band, its middle and that of its name, in rows from the middle of the row."""
HATCHES = {**HATCHING, "grip": "x", "front wheel lift": "+", "torque rise": "."}
SLIVER = 0.006
"""Share of the axis below which a stretch joins the one before it."""


class Row(NamedTuple):
    """A setup's band: where it stands in the page, its name and its run."""

    slot: int
    name: str
    run: Run


class Stretch(NamedTuple):
    """Time, s, over which the same words hold the force."""

    start: float
    end: float
    words: tuple[str, ...]


def stretches(run: Run, last: float) -> list[Stretch]:
    """A run cut where what holds its force changes.

    Args:
        run: The run.
        last: Time at which to stop, s.
    """
    found: list[Stretch] = []
    at = 0
    for words, group in groupby(run.held):
        at += len(list(group))
        start = found[-1].end if found else 0.0
        end = float(run.time[at]) if at < run.time.size else float("inf")
        end = min(end, last)
        if found and end - start < SLIVER * last:
            found[-1] = found[-1]._replace(end=end)
        elif end > start:
            found.append(Stretch(start, end, words))
    return found


def told(words: Sequence[str]) -> str:
    """What holds a force, in words."""
    return said(words) if words else "nothing"


def build(shown: Sequence[Row], last: float, width: int) -> Spec:
    """The whole figure.

    Args:
        shown: The setups, from the top down.
        last: Where the axis of time ends, s.
        width: Of the figure, px.
    """
    put = layout(TOP + BOTTOM + ROW * max(len(shown), 1), LEFT, RIGHT, TOP, BOTTOM)
    put["hovermode"], put["dragmode"] = "closest", False
    put["xaxis"] = axis(
        range=[0, last],
        title=titled("time, s"),
        fixedrange=True,
        nticks=5 if width < WIDE else 12,
    )
    put["yaxis"] = axis(range=[max(len(shown), 1) - 0.5, -0.5], visible=False, fixedrange=True)
    scale = max(width - LEFT - RIGHT, 120.0) / last
    bars = [_bars(row, place, last) for place, row in enumerate(shown)]
    return {"data": [*bars, _names(shown), _words(shown, last, scale)], "layout": put}


def _bars(row: Row, place: int, last: float) -> Spec:
    parts, colour = stretches(row.run, last), mark(row.slot).colour
    return {
        "type": "bar",
        "orientation": "h",
        "y": [place + CENTRE] * len(parts),
        "base": packed([s.start for s in parts]),
        "x": packed([s.end - s.start for s in parts]),
        "width": BAR,
        "customdata": [
            f"{plot_safe(row.name, 40)}, {s.start:.1f} to {s.end:.1f} s: {told(s.words)}"
            for s in parts
        ],
        "hovertemplate": "%{customdata}<extra></extra>",
        "marker": {
            "color": faint(colour, 0.10),
            "line": {"color": colour, "width": 1},
            "pattern": {
                "shape": [HATCHES[s.words[0]] if s.words else "" for s in parts],
                "fgcolor": faint(colour, 0.5),
                "bgcolor": faint(colour, 0.08),
                "size": 7,
                "solidity": 0.24,
            },
        },
    }


def _names(shown: Sequence[Row]) -> Spec:
    texts = [
        f"\u2002{plot_safe(r.name, 40)}{'' if r.run.time.size else ', cannot start'}" for r in shown
    ]
    return {
        "type": "scatter",
        "mode": "markers+text",
        "x": [0] * len(shown),
        "y": [place + NAME for place in range(len(shown))],
        "text": texts,
        "textposition": "middle right",
        "textfont": {"size": SIZE},
        "marker": {
            "symbol": [mark(r.slot).symbol for r in shown],
            "color": [mark(r.slot).colour for r in shown],
            "size": 9,
        },
        "hoverinfo": "skip",
        "cliponaxis": False,
    }


def _words(shown: Sequence[Row], last: float, scale: float) -> Spec:
    """Words on the stretches that have room for them."""
    spots = [
        (s.start, place + CENTRE, text)
        for place, row in enumerate(shown)
        for s in stretches(row.run, last)
        if (text := told(s.words)) and len(text) * CHARACTER + 10 <= (s.end - s.start) * scale
    ]
    return {
        "type": "scatter",
        "mode": "text",
        "x": [x for x, _, _ in spots],
        "y": [y for _, y, _ in spots],
        "text": [f"\u2002{text}" for _, _, text in spots],
        "textposition": "middle right",
        "textfont": {"size": SIZE - 1},
        "hoverinfo": "skip",
    }
