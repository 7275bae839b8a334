"""What limits at each speed: a band a setup, told by words and hatching, never by colour."""

from __future__ import annotations

import math
from itertools import groupby
from typing import NamedTuple

from curves.report.look import LIGHT, shape
from curves.report.markup import Markup, tag
from curves.report.pieces import (
    NONE,
    Column,
    figure,
    listed,
    name,
    number,
    table,
)
from curves.report.plot import CHARACTER, NARROW, Axes, along, svg, words
from curves.report.results import Results
from curves.steady.envelope import words as limit_words

ROW = 47.0
"""Height of a setup's row, its name included, px."""
BAR = 20.0
SLIVER = 0.01
"""Stretches shorter than this share of a line join the one before."""
HATCHING = {
    "phase current": "M0,8L8,0M-1,1L1,-1M7,9L9,7",
    "field weakening current": "M2.5,4a1.5,1.5 0 1 0 3,0a1.5,1.5 0 1 0 -3,0",
    "pack current": "M0,4L8,4",
    "power cap": "M1.1,2L2.9,2M5.1,6L6.9,6",
    "low-voltage cut-off": "M4,0L4,8",
    "voltage": "M0,0L8,8M-1,7L1,9M7,-1L9,1",
    "speed cap": "M2,0L2,8M6,0L6,8",
    "motor speed": "M2,0L2,8M6,0L6,8",
    "electrical speed": "M2,0L2,8M6,0L6,8",
}
"""What fills a stretch, on a tile of 8 px; limits that hold together lie over each other."""
SHORT = {
    "field weakening current": "weakening",
    "low-voltage cut-off": "low volts",
    "phase current": "phase",
    "pack current": "pack",
    "power cap": "power",
    "electrical speed": "electrical",
}
"""Where the whole words have no room; the table has them all."""


class Stretch(NamedTuple):
    """Road speeds, m/s, over which the same words limit."""

    start: float
    end: float
    words: tuple[str, ...]


def stretches(found: Results, k: int) -> list[Stretch]:
    """A setup's line cut where what limits it changes."""
    speed = found.lines.speed[k]
    said = [tuple(limit_words(row)) for row in found.lines.limited[k]]
    made: list[Stretch] = []
    at = 0
    for held, group in groupby(said):
        last = at + len(list(group)) - 1
        start = 0.0 if at == 0 else float(speed[at - 1] + speed[at]) / 2
        end = float(speed[last] + speed[min(last + 1, speed.size - 1)]) / 2
        at = last + 1
        sliver = end - start < SLIVER * speed[-1]
        if made and (sliver or made[-1].words == held):
            made[-1] = made[-1]._replace(end=end)
        else:
            made.append(Stretch(start, end, held))
    return made


def limits_figure(found: Results, last: float) -> Markup:
    """A band a setup, and the table of its stretches."""
    return figure(
        "What limits the force",
        "At each speed the limit named is the one to move for more; the mark is the top speed.",
        lambda width: _draw(found, last, width),
        legend=_key(found),
        numbers=_numbers(found),
        behind="The same as a table",
    )


def _draw(found: Results, last: float, width: float) -> Markup:
    count = len(found.rigs)
    axes = Axes(width, 14 + ROW * count + 40, 0.0, last, 0.0, 1.0)
    size = "w" if width > NARROW else "n"
    made: list[Markup] = []
    for k in range(count):
        made += _row(found, axes, k, 14 + ROW * k, size)
    made += along(axes, f"road speed, {found.speed_unit}")
    return svg(axes, "What limits each setup over road speed; the table below says the same.", made)


def _row(found: Results, axes: Axes, k: int, y: float, size: str) -> list[Markup]:
    mark, per = found.mark(k), found.per
    made = [
        shape(mark, axes.left + 6, y + 6, 5.0),
        words(axes.left + 16, y + 6, _cut(found.rigs[k].name, axes.width), bold=True),
    ]
    middle = y + 17 + BAR / 2
    speed = float(found.top.speed[k])
    top = axes.x(speed / per) if math.isfinite(speed) else -math.inf
    for order, stretch in enumerate(stretches(found, k)):
        if stretch.words:
            left, right = axes.x(stretch.start / per), axes.x(stretch.end / per)
            made += _bar(mark.colour, left, right, middle, stretch.words, f"{size}{k}-{order}")
            made += _label(*_free(left, right, top), middle, stretch.words)
    if math.isfinite(speed):
        made.append(shape(mark, top, middle, 6.5, outlined=True))
        said = f"top {number(speed / per)}"
        made.append(words(top, y + 6, said, anchor="middle", ink="soft", halo=True))
    return made


def _free(left: float, right: float, top: float) -> tuple[float, float]:
    """The larger part of a stretch that the mark of the top speed leaves free."""
    if not left < top < right:
        return left, right
    return (left, top - 8) if top - left > right - top else (top + 8, right)


def _bar(
    colour: str, left: float, right: float, middle: float, held: tuple[str, ...], key: str
) -> list[Markup]:
    """A stretch in its hatching, px."""
    wide = max(right - left, 0.5)
    box = {"x": left, "y": middle - BAR / 2, "width": wide, "height": BAR}
    return [
        tag(
            "pattern",
            [
                tag("path", d=HATCHING[w], fill="none", stroke=colour, stroke_opacity="0.6")
                for w in held
            ],
            id=f"h{key}",
            width="8",
            height="8",
            patternUnits="userSpaceOnUse",
        ),
        tag("rect", fill=colour, fill_opacity="0.07", **box),
        tag("rect", fill=f"url(#h{key})", stroke=colour, **box),
    ]


def _label(left: float, right: float, middle: float, held: tuple[str, ...]) -> list[Markup]:
    """The words of a stretch where they have room, shortened if need be."""
    whole = " + ".join(held)
    brief = " + ".join(SHORT.get(word, word) for word in held)
    fits = (said for said in (whole, brief) if len(said) * CHARACTER + 10 < right - left)
    said = next(fits, None)
    if said is None:
        return []
    wide, at = len(said) * CHARACTER + 8, (left + right) / 2
    paper = tag(
        "rect",
        x=at - wide / 2,
        y=middle - 8,
        width=wide,
        height=16,
        fill=LIGHT["page"],
        fill_opacity="0.85",
        class_="f-page",
    )
    return [paper, words(at, middle, said, anchor="middle")]


def _key(found: Results) -> Markup:
    """What each hatching means, for those that occur."""
    held = dict.fromkeys(
        s.words for k in range(len(found.rigs)) for s in stretches(found, k) if s.words
    )
    items = []
    for order, words_ in enumerate(held):
        drawn = tag(
            "svg",
            _bar(LIGHT["edge"], 1, 33, 11, words_, f"k{order}"),
            class_="swatch hatch",
            viewBox="0 0 34 22",
            width="28",
            height="18",
            aria_hidden="true",
        )
        items.append(tag("li", tag("span", drawn, listed(words_), class_="name hatched")))
    return tag("ul", items, class_="legend")


def _cut(text: str, width: float) -> str:
    most = int(width * 0.55 / CHARACTER)
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _numbers(found: Results) -> Markup:
    unit = found.speed_unit
    rows = [
        [
            name(found, k),
            number(s.start / found.per),
            number(s.end / found.per),
            listed(s.words) if s.words else f"{NONE} (not driven)",
        ]
        for k in range(len(found.rigs))
        for s in stretches(found, k)
    ]
    columns = [
        Column("Setup"),
        Column("from", unit),
        Column("to", unit),
        Column("Limited by", words=True),
    ]
    return table(columns, rows, caption="What limits each setup over road speed", kind="small")
