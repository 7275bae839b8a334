"""Values of the shared axis marked through every panel, their names in rows above the first."""

from __future__ import annotations

from typing import NamedTuple

from dashboard.base.theme import NEUTRAL
from dashboard.figures.spec import CHARACTER, SIZE, SOFT, Spec, note

ROW = 16
"""Height of a row of names, px."""
BESIDE = 3
"""Between a line and its name, px."""


class _Name(NamedTuple):
    """Where a name stands: its line, its ends, px along the axis, and its row from the foot."""

    line: float
    left: float
    right: float
    row: int


def mark(figure: Spec, values: list[tuple[float, str]]) -> None:
    """Mark values through every panel; names run into no line, curve or other name.

    Args:
        figure: As ``lines.build`` made it; changed in place.
        values: Where, and what it is called in a word or two; those off the axis are left out.
    """
    put = figure["layout"]
    first, last = put["xaxis"]["range"]
    across = put["meta"]["across"]
    shown = [(value, name) for value, name in values if first <= value <= last]
    placed = _rows(
        [
            _beside((value - first) / (last - first) * across, len(name) * CHARACTER, across)
            for value, name in shown
        ]
    )
    if not placed:
        return
    added = ROW * (1 + max(name.row for name in placed))
    inner = put["height"] - put["margin"]["t"] - put["margin"]["b"]
    put["height"] += added
    put["margin"]["t"] += added
    title = next(a for a in put["annotations"] if a["text"].startswith("<b>"))
    title["yshift"] += added
    panels = [axis["domain"] for key, axis in put.items() if key.startswith("yaxis")]
    line = {"color": NEUTRAL, "width": 1.4, "dash": "2px,4px"}
    for (value, said), name in zip(shown, placed, strict=True):
        for low, high in panels:
            top = 1 + ROW * (name.row + 0.8) / inner if high == 1 else high
            put["shapes"].append(
                {"type": "line", "xref": "x", "x0": value, "x1": value, "yref": "paper",
                 "y0": low, "y1": top, "line": line, "layer": "below"}
            )  # fmt: skip
        put["annotations"].append(
            note(said, xref="x", x=value, y=1, yanchor="bottom", yshift=ROW * name.row,
                 xanchor="left" if name.left > name.line else "right",
                 font={"size": SIZE - 1, "color": SOFT})
        )  # fmt: skip


def _beside(x: float, width: float, across: float) -> _Name:
    """A name in the lowest row, right of its line if that fits in the plot."""
    right = x + BESIDE + width <= across
    left = x + BESIDE if right else x - BESIDE - width
    return _Name(x, left, left + width, 0)


def _rows(names: list[_Name]) -> list[_Name]:
    """The names in the lowest rows that have room.

    Those whose lines the others would have to pass, were they higher, come first.
    """
    order = sorted(
        range(len(names)),
        key=lambda k: -names[k].line if names[k].left > names[k].line else names[k].line,
    )
    found: dict[int, _Name] = {}
    for k in order:
        name = names[k]
        while name.row <= len(found) and any(_meet(name, other) for other in found.values()):
            name = name._replace(row=name.row + 1)
        found[k] = name
    return [found[k] for k in range(len(names))]


def _meet(one: _Name, other: _Name) -> bool:
    """Whether two names, or the line to one and the other, run into each other."""
    if one.row == other.row:
        return one.left < other.right and other.left < one.right
    high, low = (one, other) if one.row > other.row else (other, one)
    return low.left < high.line < low.right
