"""What limits at each speed: a band a setup, told by words and hatching."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import Any, NamedTuple

from dashboard.figures.spec import CARD, CHARACTER, INK, SIZE, Spec, packed
from dashboard.results import Curve, Reading
from dashboard.text import plot_safe, speed, speed_factor
from dashboard.theme import faint, mark

ROW = 46
"""Height of a setup's row, its name included, px."""
BAR = 0.42
"""Height of its band, share of the row."""

HATCHING = {
    "phase current": "/",
    "field weakening current": "x",
    "pack current": "-",
    "power cap": ".",
    "low-voltage cut-off": "+",
    "voltage": "\\",
    "speed cap": "|",
    "motor speed": "|",
    "electrical speed": "|",
}
SHORT = {"field weakening current": "field weakening"}


class Stretch(NamedTuple):
    """Speeds, km/h, over which the same words limit."""

    start: float
    end: float
    words: tuple[str, ...]


def stretches(curve: Curve) -> list[Stretch]:
    """A curve cut where what limits changes; slivers of under 1 % join what comes before."""
    speeds = curve.speed
    found: list[Stretch] = []
    at = 0
    for words, group in groupby(curve.limits):
        count = len(list(group))
        last = at + count - 1
        start = 0.0 if at == 0 else float(speeds[at - 1] + speeds[at]) / 2
        end = float(speeds[last] + speeds[min(last + 1, len(speeds) - 1)]) / 2
        at += count
        sliver = end - start < 0.01 * curve.end
        if found and (sliver or words == found[-1].words):
            found[-1] = found[-1]._replace(end=end)
        else:
            found.append(Stretch(start, end, words))
    return found


def band_height(count: int) -> int:
    """Height of the panel for so many setups, px."""
    return ROW * max(count, 1)


def said(words: Sequence[str]) -> str:
    """The words of a stretch as they are written on it."""
    return " + ".join(SHORT.get(w, w) for w in words) or "not driven"


def hatching(words: Sequence[str]) -> str:
    """The hatching of a stretch: weakening is told before the voltage that calls for it."""
    first = "field weakening current" if "field weakening current" in words else None
    return HATCHING.get(first or next(iter(words), ""), "")


def band_traces(readings: Sequence[Reading], f: Any, y: str) -> list[Spec]:
    """One bar trace a setup, then the names and the top speeds of all."""
    factor = speed_factor(f.unit)
    bars = [_bar(r, row, f, y) for row, r in enumerate(readings)]
    able = [(row, r) for row, r in enumerate(readings) if math.isfinite(r.curve.top)]
    shared = {"type": "scatter", "yaxis": y, "hoverinfo": "skip", "cliponaxis": False}
    names = {
        **shared,
        "mode": "markers+text",
        "x": [0.0] * len(readings),
        "y": [row - 0.27 for row in range(len(readings))],
        "text": [f" {plot_safe(r.name, 40)}" for r in readings],
        "textposition": "middle right",
        "textfont": {"size": SIZE},
        "marker": {
            "symbol": [mark(r.slot).symbol for r in readings],
            "color": [mark(r.slot).colour for r in readings],
            "size": 9,
        },
    }
    tops = {
        **shared,
        "mode": "markers+text",
        "x": [r.curve.top * factor for _, r in able],
        "y": [row + 0.16 for row, _ in able],
        "text": [f"top {speed(r.curve.top, f.unit)}" for _, r in able],
        "textposition": "top center",
        "textfont": {"size": SIZE - 1},
        "marker": {
            "symbol": [mark(r.slot).symbol for _, r in able],
            "color": [mark(r.slot).colour for _, r in able],
            "size": 13,
            "line": {"width": 2, "color": CARD},
        },
    }
    return [*bars, names, tops]


def _bar(reading: Reading, row: int, f: Any, y: str) -> Spec:
    factor = speed_factor(f.unit)
    colour = mark(reading.slot).colour
    parts = [s for s in stretches(reading.curve) if s.words]
    texts = [said(s.words) for s in parts]
    fits = [
        f.px(s.end - s.start) > len(t) * CHARACTER * 0.95 + 8
        for s, t in zip(parts, texts, strict=True)
    ]
    return {
        "type": "bar",
        "orientation": "h",
        "name": plot_safe(reading.name, 40),
        "yaxis": y,
        "y": [row + 0.16] * len(parts),
        "base": packed([s.start * factor for s in parts]),
        "x": packed([(s.end - s.start) * factor for s in parts]),
        "width": BAR,
        "text": [t if fit else "" for t, fit in zip(texts, fits, strict=True)],
        "textposition": "inside",
        "insidetextanchor": "middle",
        "textangle": 0,
        "constraintext": "none",
        "textfont": {"size": SIZE - 1, "color": INK},
        "customdata": texts,
        "hovertemplate": "%{customdata}",
        "marker": {
            "color": faint(colour, 0.10),
            "line": {"color": colour, "width": 1},
            "pattern": {
                "shape": [hatching(s.words) for s in parts],
                "fgcolor": faint(colour, 0.38),
                "bgcolor": faint(colour, 0.08),
                "size": 7,
                "solidity": 0.22,
            },
        },
    }
