"""What limits at each speed: a band a setup, told by words and hatching."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import Any, NamedTuple

from dashboard.figures.spec import CARD, CHARACTER, SIZE, Spec, packed
from dashboard.results import Curve, Reading
from dashboard.text import plot_safe, speed, speed_factor
from dashboard.theme import NEUTRAL, faint, mark

ROW = 46
"""Height of a setup's row, its name included, px."""
KEY_ROW = 23
"""Height of a line of the key to the hatching, px."""
BOX = 22.0
"""Width of a sample of hatching, px."""
BAR = 0.42
"""Height of its band, share of the row."""
CENTRE = 0.16
"""Middle of the band below the middle of the row, share of the row."""

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
WEAKENED = "field weakening current"


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


def band_height(readings: Sequence[Reading], f: Any) -> int:
    """Height of the panel, the key to the hatching below it included, px."""
    lines = len(_key_lines(readings, f))
    return ROW * max(len(readings), 1) + KEY_ROW * lines


def said(words: Sequence[str]) -> str:
    """The words of a stretch as they are written on it."""
    ordered = sorted(words, key=lambda w: w == WEAKENED)
    return " + ".join(SHORT.get(w, w) for w in ordered) or "not driven"


def _hatch(words: Sequence[str]) -> str:
    """The hatching of a stretch: weakening before the voltage that calls for it."""
    return HATCHING[WEAKENED if WEAKENED in words else words[0]]


def band_traces(readings: Sequence[Reading], f: Any, y: str) -> list[Spec]:
    """One bar trace a setup, then the names and the top speeds of all."""
    factor = speed_factor(f.unit)
    bars = [_bar(r, row, f, y) for row, r in enumerate(readings)]
    able = [(row, r) for row, r in enumerate(readings) if math.isfinite(r.curve.top)]
    shared = {"type": "scatter", "yaxis": y, "hoverinfo": "skip", "cliponaxis": False}
    inset = 6 / f.across * f.last
    names = {
        **shared,
        "mode": "markers+text",
        "x": [inset] * len(readings),
        "y": [row - 0.27 for row in range(len(readings))],
        "text": [_name(r, f) for r in readings],
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
        "mode": "markers",
        "x": [r.curve.top * factor for _, r in able],
        "y": [row + CENTRE for row, _ in able],
        "marker": {
            "symbol": [mark(r.slot).symbol for _, r in able],
            "color": [mark(r.slot).colour for _, r in able],
            "size": 13,
            "line": {"width": 2, "color": CARD},
        },
    }
    said_tops = {
        **shared,
        "mode": "text",
        "x": [r.curve.top * factor for _, r in able],
        "y": [row - 0.27 for row, _ in able],
        "text": ["" if f.narrow else _top_words(r, f) for _, r in able],
        "textposition": "middle center",
        "textfont": {"size": SIZE - 1},
    }
    words = _words(readings, f, y)
    return [*bars, names, tops, said_tops, words, *_warned(readings, f, y), *_key(readings, f, y)]


def _top_words(reading: Reading, f: Any) -> str:
    if not math.isfinite(reading.curve.top):
        return "cannot start"
    return f"top speed {speed(reading.curve.top, f.unit)}"


def _name(reading: Reading, f: Any) -> str:
    name = plot_safe(reading.name, 20 if f.narrow else 60)
    told = f.narrow or not math.isfinite(reading.curve.top)
    return f" {name}, {_top_words(reading, f)}" if told else f" {name}"


def _words(readings: Sequence[Reading], f: Any, y: str) -> Spec:
    """Words on the stretches that have room for them, beside the marker of the top speed."""
    spots = []
    for row, r in enumerate(readings):
        marker = f.px(r.curve.top) if math.isfinite(r.curve.top) else -100.0
        for stretch in stretches(r.curve):
            text = said(stretch.words) if stretch.words else ""
            start, end = f.px(stretch.start) + 5, f.px(stretch.end) - 3
            wide = len(text) * CHARACTER * 0.95
            if start - 10 < marker < start + wide + 10:
                start = marker + 12
            if text and start + wide <= end:
                spots.append((start * f.last / f.across, row + CENTRE, text))
    return {
        "type": "scatter",
        "mode": "text",
        "yaxis": y,
        "hoverinfo": "skip",
        "x": [x for x, _, _ in spots],
        "y": [at for _, at, _ in spots],
        "text": [text for _, _, text in spots],
        "textposition": "middle right",
        "textfont": {"size": SIZE - 1},
    }


def _warned(readings: Sequence[Reading], f: Any, y: str) -> list[Spec]:
    """Ticks where a drive that goes off is felt or does harm, on lines that reach so far."""
    ticks, texts = [], []
    for row, r in enumerate(readings):
        curve = r.curve
        found = [
            (kmh, said)
            for kmh, said in ((curve.brakes, BRAKES), (curve.harms, HARMS))
            if kmh <= curve.end
        ]
        ticks += [(kmh, row) for kmh, _ in found]
        if found and not f.narrow:
            told = "; ".join(f"above {speed(kmh, f.unit, 0)} {said}" for kmh, said in found)
            texts.append((curve.end, row, f" {told}"))
    factor = speed_factor(f.unit)
    shared = {"type": "scatter", "yaxis": y, "hoverinfo": "skip", "cliponaxis": False}
    return [
        {
            **shared,
            "mode": "markers",
            "x": [kmh * factor for kmh, _ in ticks],
            "y": [row + CENTRE for _, row in ticks],
            "marker": {
                "symbol": "line-ns-open",
                "size": 22,
                "color": NEUTRAL,
                "line": {"width": 3, "color": NEUTRAL},
            },
        },
        {
            **shared,
            "mode": "text",
            "x": [kmh * factor for kmh, _, _ in texts],
            "y": [row + CENTRE for _, row, _ in texts],
            "text": [told for _, _, told in texts],
            "textposition": "middle right",
            "textfont": {"size": SIZE - 1},
        },
    ]


BRAKES = "it brakes itself if the drive stops"
HARMS = "its back-EMF can harm the controller"


def _key_lines(readings: Sequence[Reading], f: Any) -> list[list[tuple[float, tuple[str, ...]]]]:
    """Where each sample of hatching stands: lines of px from the left edge and words."""
    found: dict[tuple[str, ...], None] = {}
    for r in readings:
        found.update(dict.fromkeys(s.words for s in stretches(r.curve) if s.words))
    # Stretches that are hatched alike share a sample: the fewest words tell it.
    alike: dict[str, tuple[str, ...]] = {}
    for words in sorted(found, key=len):
        alike.setdefault(_hatch(words), words)
    lines: list[list[tuple[float, tuple[str, ...]]]] = []
    along = f.across
    for words in alike.values():
        wide = BOX + 6 + len(said(words)) * CHARACTER * 0.95 + 18
        if along + wide > f.across:
            lines.append([])
            along = 0.0
        lines[-1].append((along, words))
        along += wide
    return lines


def _key(readings: Sequence[Reading], f: Any, y: str) -> list[Spec]:
    """What the hatching means, in ink: the colours are the setups'."""
    spots = [
        (px * f.last / f.across, len(readings) - 0.5 + (line + 0.62) * KEY_ROW / ROW, words)
        for line, entries in enumerate(_key_lines(readings, f))
        for px, words in entries
    ]
    box = BOX * f.last / f.across
    samples = {
        "type": "bar",
        "orientation": "h",
        "yaxis": y,
        "hoverinfo": "skip",
        "base": [x for x, _, _ in spots],
        "x": [box] * len(spots),
        "y": [at for _, at, _ in spots],
        "width": 13 / ROW,
        "marker": _filled(NEUTRAL, [_hatch(words) for _, _, words in spots]),
    }
    words = {
        "type": "scatter",
        "mode": "text",
        "yaxis": y,
        "hoverinfo": "skip",
        "cliponaxis": False,
        "x": [x + 1.25 * box for x, _, _ in spots],
        "y": [at for _, at, _ in spots],
        "text": [said(words) for _, _, words in spots],
        "textposition": "middle right",
        "textfont": {"size": SIZE - 1},
    }
    return [samples, words]


def _bar(reading: Reading, row: int, f: Any, y: str) -> Spec:
    factor = speed_factor(f.unit)
    colour = mark(reading.slot).colour
    parts = [s for s in stretches(reading.curve) if s.words]
    texts = [said(s.words) for s in parts]
    return {
        "type": "bar",
        "orientation": "h",
        "name": plot_safe(reading.name, 40),
        "yaxis": y,
        "y": [row + CENTRE] * len(parts),
        "base": packed([s.start * factor for s in parts]),
        "x": packed([(s.end - s.start) * factor for s in parts]),
        "width": BAR,
        "customdata": texts,
        "hovertemplate": "%{customdata}",
        "marker": _filled(colour, [_hatch(s.words) for s in parts]),
    }


def _filled(colour: str, shapes: list[str]) -> Spec:
    return {
        "color": faint(colour, 0.10),
        "line": {"color": colour, "width": 1},
        "pattern": {
            "shape": shapes,
            "fgcolor": faint(colour, 0.5),
            "bgcolor": faint(colour, 0.08),
            "size": 7,
            "solidity": 0.24,
        },
    }
