"""What limits at each speed: a band a setup, told by words and hatching."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import NamedTuple

from dashboard.answers.curve import Curve
from dashboard.answers.setups import Reading
from dashboard.base.theme import NEUTRAL, faint, mark
from dashboard.base.words import plot_safe, speed, speed_factor
from dashboard.figures.limit_strips import HATCHING, WEAKENED, said
from dashboard.figures.spec import CARD, CHARACTER, SIZE, Spec, packed
from dashboard.pages.which_pack.figure_scale import Frame

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
NAME = -0.27
"""Line of the name, the same way."""
BRAKES = ("bowtie", "from here on it brakes itself if the drive cuts out")
HARMS = ("x", "from here on its back-EMF then passes the controller’s rating")
"""Signs on a band and what they mean."""


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


def band_height(readings: Sequence[Reading], f: Frame) -> int:
    """Height of the panel, the key to the hatching below it included, px."""
    lines = len(_key_lines(readings, f))
    return ROW * max(len(readings), 1) + KEY_ROW * lines


def _hatch(words: Sequence[str]) -> str:
    """The hatching of a stretch: weakening before the voltage that calls for it."""
    return HATCHING[WEAKENED if WEAKENED in words else words[0]]


class _Bar(NamedTuple):
    start: float
    end: float
    y: float
    height: float
    colour: str
    words: tuple[str, ...]
    name: str


class _Text(NamedTuple):
    x: float
    y: float
    text: str
    side: str = "middle right"
    size: int = SIZE - 1


class _Point(NamedTuple):
    x: float
    y: float
    symbol: str
    colour: str
    size: int
    line: str
    border: int


def band_traces(readings: Sequence[Reading], f: Frame, y: str) -> list[Spec]:
    """Every band, point and text of the panel: three traces, for a trace has its price."""
    bars, points, texts = [], [], []
    factor = speed_factor(f.unit)
    for row, r in enumerate(readings):
        bars += _bars(r, row, f)
        points += [_sign(r, row, f), *_top(r, row, f)]
        points += [_tick(kmh * factor, row + CENTRE, sign) for kmh, sign, _ in _warned(r, f)]
        texts += [*_told(r, row, f), *_words(r, row, f)]
    samples, signs, meanings = _key(readings, f)
    points += signs
    texts += meanings
    shared = {"type": "scatter", "yaxis": y, "hoverinfo": "skip", "cliponaxis": False}
    return [
        _bar_trace([*bars, *samples], y),
        {
            **shared,
            "mode": "markers",
            "x": [p.x for p in points],
            "y": [p.y for p in points],
            "marker": {
                "symbol": [p.symbol for p in points],
                "color": [p.colour for p in points],
                "size": [p.size for p in points],
                "line": {
                    "color": [p.line for p in points],
                    "width": [p.border for p in points],
                },
            },
        },
        {
            **shared,
            "mode": "text",
            "x": [t.x for t in texts],
            "y": [t.y for t in texts],
            "text": [t.text for t in texts],
            "textposition": [t.side for t in texts],
            "textfont": {"size": [t.size for t in texts]},
        },
    ]


def _bar_trace(bars: Sequence[_Bar], y: str) -> Spec:
    return {
        "type": "bar",
        "orientation": "h",
        "yaxis": y,
        "y": [b.y for b in bars],
        "base": packed([b.start for b in bars]),
        "x": packed([b.end - b.start for b in bars]),
        "width": [b.height for b in bars],
        "customdata": [f"{b.name}: {said(b.words)}" for b in bars],
        "hovertemplate": "%{customdata}<extra></extra>",
        "marker": {
            "color": [faint(b.colour, 0.10) for b in bars],
            "line": {"color": [b.colour for b in bars], "width": 1},
            "pattern": {
                "shape": [_hatch(b.words) for b in bars],
                "fgcolor": [faint(b.colour, 0.5) for b in bars],
                "bgcolor": [faint(b.colour, 0.08) for b in bars],
                "size": 7,
                "solidity": 0.24,
            },
        },
    }


def _bars(r: Reading, row: int, f: Frame) -> list[_Bar]:
    factor, colour, name = speed_factor(f.unit), mark(r.slot).colour, plot_safe(r.name, 40)
    return [
        _Bar(s.start * factor, s.end * factor, row + CENTRE, BAR, colour, s.words, name)
        for s in stretches(r.curve)
        if s.words
    ]


def _sign(r: Reading, row: int, f: Frame) -> _Point:
    m = mark(r.slot)
    return _Point(6 / f.across * f.last, row + NAME, m.symbol, m.colour, 9, m.colour, 0)


def _top(r: Reading, row: int, f: Frame) -> list[_Point]:
    if not r.curve.starts:
        return []
    m, x = mark(r.slot), r.curve.top * speed_factor(f.unit)
    return [_Point(x, row + CENTRE, m.symbol, m.colour, 13, CARD, 2)]


def _warned(r: Reading, f: Frame) -> list[tuple[float, str, str]]:
    """Where a drive that cuts out is felt or does harm, km/h, with its sign and meaning."""
    both = ((r.curve.brakes, *BRAKES), (r.curve.harms, *HARMS))
    return [found for found in both if found[0] <= f.last_kmh]


def _tick(x: float, y: float, sign: str) -> _Point:
    return _Point(x, y, sign, NEUTRAL, 11, CARD, 1)


def _told(r: Reading, row: int, f: Frame) -> list[_Text]:
    """Name, top speed, and the speeds at which a drive that cuts out is felt or does harm."""
    factor = speed_factor(f.unit)
    able = r.curve.starts
    top = f"top speed {speed(r.curve.top, f.unit)}" if able else "cannot start"
    name = plot_safe(r.name, 20 if f.narrow else 60)
    inset = 6 / f.across * f.last
    found = [
        _Text(kmh * factor, row + CENTRE, f"\u2002{speed(kmh, f.unit, 0)}")
        for kmh, *_ in _warned(r, f)
    ]
    if f.narrow or not able:
        return [*found, _Text(inset, row + NAME, f"\u2002{name}, {top}", size=SIZE)]
    return [
        *found,
        _Text(inset, row + NAME, f"\u2002{name}", size=SIZE),
        _Text(r.curve.top * factor, row + NAME, top, "middle center"),
    ]


def _words(r: Reading, row: int, f: Frame) -> list[_Text]:
    """Words on the stretches that have room for them, beside the marker of the top speed."""
    found = []
    marker = f.px(r.curve.top) if r.curve.starts else -100.0
    for stretch in stretches(r.curve):
        text = said(stretch.words) if stretch.words else ""
        start, end = f.px(stretch.start) + 5, f.px(stretch.end) - 3
        wide = len(text) * CHARACTER * 0.95
        if start - 10 < marker < start + wide + 10:
            start = marker + 12
        if text and start + wide <= end:
            found.append(_Text(start * f.last / f.across, row + CENTRE, text))
    return found


class _Entry(NamedTuple):
    """A sample in the key: what limits, or a sign, and what it means."""

    words: tuple[str, ...]
    sign: str
    meaning: str


def _entries(readings: Sequence[Reading], f: Frame) -> list[_Entry]:
    """All samples; stretches that are hatched alike share one: the fewest words tell it."""
    found = {s.words for r in readings for s in stretches(r.curve) if s.words}
    alike: dict[str, tuple[str, ...]] = {}
    for words in sorted(found, key=lambda w: (len(w), w)):
        alike.setdefault(_hatch(words), words)
    signs = {(sign, meaning) for r in readings for _, sign, meaning in _warned(r, f)}
    return [
        *(_Entry(words, "", said(words)) for words in alike.values()),
        *(_Entry((), sign, meaning) for sign, meaning in sorted(signs)),
    ]


def _key_lines(readings: Sequence[Reading], f: Frame) -> list[list[tuple[float, _Entry]]]:
    """Where each sample stands: lines of px from the left edge and samples."""
    lines: list[list[tuple[float, _Entry]]] = []
    along = f.across
    for entry in _entries(readings, f):
        wide = BOX + 6 + len(entry.meaning) * CHARACTER * 0.95 + 18
        if along + wide > f.across:
            lines.append([])
            along = 0.0
        lines[-1].append((along, entry))
        along += wide
    return lines


def _key(readings: Sequence[Reading], f: Frame) -> tuple[list[_Bar], list[_Point], list[_Text]]:
    """What hatching and signs mean, in ink: the colours are the setups'."""
    bars, points, texts = [], [], []
    box = BOX * f.last / f.across
    for line, entries in enumerate(_key_lines(readings, f)):
        y = len(readings) - 0.5 + (line + 0.62) * KEY_ROW / ROW
        for px, entry in entries:
            x = px * f.last / f.across
            if entry.sign:
                points.append(_tick(x + box / 2, y, entry.sign))
            else:
                bars.append(_Bar(x, x + box, y, 13 / ROW, NEUTRAL, entry.words, "Hatching"))
            texts.append(_Text(x + 1.25 * box, y, entry.meaning))
    return bars, points, texts
