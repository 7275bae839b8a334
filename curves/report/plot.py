"""Drawings as plain vector graphics: axes, lines, marks, words; no library and no script.

Colours stand in the attributes as they look on paper; the style sheet turns ink for dark screens.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from curves.numerics.counts import evenly, round_step
from curves.numerics.roots import Array
from curves.present.marks import Mark
from curves.report.look import LIGHT, shape
from curves.report.markup import Child, Markup, short, tag

WIDE, NARROW = 760.0, 360.0
"""Widths a drawing is made in, px: for paper and screens, and for phones."""
SIZE = 13.0
"""Of the type, px."""
CHARACTER = 6.5
"""Mean width of a character at ``SIZE``, px."""
LEFT, RIGHT, TOP = 46.0, 14.0, 12.0
BOTTOM = 40.0
CLOSE = 0.12
"""A point this near the line through its neighbours is not drawn, px."""


class Axes(NamedTuple):
    """A plot's frame: its size in px, and the values at its edges."""

    width: float
    height: float
    x0: float
    x1: float
    y0: float
    y1: float

    @property
    def left(self) -> float:
        """Px of the first value of x."""
        return LEFT

    @property
    def right_edge(self) -> float:
        """Px of the last value of x."""
        return self.width - RIGHT

    @property
    def floor(self) -> float:
        """Px of the lowest value of y."""
        return self.height - BOTTOM

    def x(self, value: float) -> float:
        """Px from the left."""
        share = (value - self.x0) / (self.x1 - self.x0)
        return self.left + share * (self.right_edge - self.left)

    def y(self, value: float) -> float:
        """Px from above."""
        return self.floor - (value - self.y0) / (self.y1 - self.y0) * (self.floor - TOP)


def svg(axes: Axes, told: str, *children: Child) -> Markup:
    """The whole drawing.

    Args:
        axes: its frame.
        told: what it shows, for those who cannot see it.
        children: what is in it.
    """
    return tag(
        "svg",
        children,
        role="img",
        aria_label=told,
        class_="wide" if axes.width > NARROW else "narrow",
        viewBox=f"0 0 {short(axes.width)} {short(axes.height)}",
        width=short(axes.width),
        height=short(axes.height),
        font_family="Source Sans 3, sans-serif",
        font_size=SIZE,
    )


def words(
    x: float,
    y: float,
    said: str,
    *,
    anchor: str = "start",
    ink: str = "ink",
    halo: bool = False,
    bold: bool = False,
) -> Markup:
    """A text whose middle is at ``y``."""
    return tag(
        "text",
        said,
        x=x,
        y=y + 0.34 * SIZE,
        text_anchor=None if anchor == "start" else anchor,
        fill=LIGHT[ink],
        class_=f"f-{ink}{' halo' if halo else ''}",
        font_weight="600" if bold else None,
    )


def rule(x0: float, y0: float, x1: float, y1: float, ink: str, **more: float | str) -> Markup:
    """A straight line in ink."""
    return tag("line", x1=x0, y1=y0, x2=x1, y2=y1, stroke=LIGHT[ink], class_=f"s-{ink}", **more)


def scales(axes: Axes, x_title: str) -> list[Markup]:
    """Both axes: values along them, and level lines."""
    made: list[Markup] = []
    for value in ticks(axes.y0, axes.y1, 6 if axes.height > 240 else 4):
        y = axes.y(value)
        made.append(rule(axes.left, y, axes.right_edge, y, "line" if value == 0 else "grid"))
        made.append(words(axes.left - 7, y, tick_text(value), anchor="end", ink="soft"))
    made += along(axes, x_title)
    return made


def along(axes: Axes, x_title: str) -> list[Markup]:
    """The axis below: values and what they are."""
    made = []
    y = axes.floor
    for value in ticks(axes.x0, axes.x1, 12 if axes.width > NARROW else 6):
        x = axes.x(value)
        made.append(rule(x, y, x, y + 4, "edge"))
        made.append(words(x, y + 13, tick_text(value), anchor="middle", ink="soft"))
    middle = (axes.left + axes.right_edge) / 2
    made.append(words(middle, y + 30, x_title, anchor="middle", ink="soft"))
    return made


def ticks(low: float, high: float, most: int) -> list[float]:
    """Round values from ``low`` to ``high``, at most so many steps."""
    step = round_step(high - low, most)
    first = math.ceil(low / step - 1e-9)
    return [k * step for k in range(first, math.floor(high / step + 1e-9) + 1)]


def tick_text(value: float) -> str:
    """A value on an axis, thousands set apart."""
    return f"{round(value, 6):,g}" if abs(value) < 1e6 else f"{value:g}"


def round_up(value: float) -> float:
    """The next round number for the end of an axis."""
    if not (math.isfinite(value) and value > 0):
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    steps = (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10)
    return next(s * power for s in steps if s * power >= value * (1 - 1e-9))


def line(axes: Axes, x: Array, y: Array, colour: str, width: float, ink: str = "") -> Markup:
    """A line through points, broken where a value is missing and cut at the frame.

    Args:
        axes: the frame.
        x: values, shape (points,).
        y: values, NaN where there is none.
        colour: a setup's, or empty for ``ink``.
        width: px.
        ink: name of an ink of the page.
    """
    inside = np.isfinite(y) & (y <= axes.y1 * (1 + 1e-9)) & (x <= axes.x1 * (1 + 1e-9))
    runs = np.split(np.arange(x.size), np.flatnonzero(np.diff(inside.astype(int))) + 1)
    drawn = "".join(_run(axes, x[r], y[r]) for r in runs if r.size > 1 and inside[r[0]])
    return tag(
        "path",
        d=drawn,
        fill="none",
        stroke=LIGHT[ink] if ink else colour,
        class_=f"s-{ink}" if ink else None,
        stroke_width=width,
        stroke_linejoin="round",
    )


def _run(axes: Axes, x: Array, y: Array) -> str:
    points = np.column_stack(([axes.x(v) for v in x], [axes.y(v) for v in y]))
    kept = points[_telling(points)]
    return "M" + "L".join(f"{short(px)},{short(py)}" for px, py in kept)


def _telling(points: Array) -> list[int]:
    """Points a line cannot do without (Douglas and Peucker, 1973)."""
    keep = {0, len(points) - 1}
    todo = [(0, len(points) - 1)]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        along_it = points[b] - points[a]
        length = max(float(np.hypot(*along_it)), 1e-9)
        off = points[a + 1 : b] - points[a]
        away = np.abs(along_it[0] * off[:, 1] - along_it[1] * off[:, 0]) / length
        k = int(np.argmax(away))
        if away[k] > CLOSE:
            keep.add(a + 1 + k)
            todo += [(a, a + 1 + k), (a + 1 + k, b)]
    return sorted(keep)


def beads(
    axes: Axes, x: Array, y: Array, mark: Mark, order: int, count: int, lanes: int = 5
) -> list[Markup]:
    """A setup's marks along its line, between those of the others, so that lines in one show all.

    Args:
        axes: the frame.
        x: values, rising, shape (points,).
        y: values, NaN where there is none.
        mark: the setup's.
        order: its place among those drawn.
        count: how many are drawn.
        lanes: marks a line has over the whole axis.
    """
    apart = (axes.x1 - axes.x0) / lanes
    wanted = evenly(axes.x0 + apart * (order + 0.5) / count, min(x[-1], axes.x1), apart, lanes)
    at = np.interp(wanted, x, y)
    last = np.flatnonzero(np.isfinite(y))
    places = list(zip(wanted.tolist(), at.tolist(), strict=True))
    if last.size:
        places.append((float(x[last[-1]]), float(y[last[-1]])))
    return [
        shape(mark, axes.x(a), axes.y(b), 4.0, outlined=True)
        for a, b in places
        if math.isfinite(b) and b <= axes.y1
    ]


def upright(
    axes: Axes, x: float, said: str, *, low: bool = False, drop: float = 0.0
) -> list[Markup]:
    """A line across the plot at a value of x, and what it is."""
    at = axes.x(x)
    left = at + len(said) * CHARACTER + 8 < axes.right_edge
    y = axes.floor - 11 if low else TOP + 8 + drop
    return [
        rule(at, TOP, at, axes.floor, "soft", stroke_dasharray="2 3"),
        words(
            at + (5 if left else -5),
            y,
            said,
            anchor="start" if left else "end",
            ink="soft",
            halo=True,
        ),
    ]


def largest(values: Sequence[Array]) -> float:
    """The largest finite number, 0 if there is none."""
    found = [float(np.nanmax(v)) for v in values if v.size and np.isfinite(v).any()]
    return max((f for f in found if math.isfinite(f)), default=0.0)
