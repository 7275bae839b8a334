"""A measured run on the predicted one, and what differs below it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from dashboard.base.theme import NEUTRAL, mark
from dashboard.base.words import plot_safe
from dashboard.figures.spec import (
    INK,
    SOFT,
    Spec,
    axis,
    finite_max,
    layout,
    note,
    packed,
    round_up,
    titled,
)

LEFT, TOP, BOTTOM, GAP = 58, 34, 48, 40
HIGH, LOW = 300, 130
WIDE = 700


class Predicted(NamedTuple):
    """A prediction: its name, and its values at the measured times."""

    name: str
    values: Any


def build(
    title: str,
    unit: str,
    time: Any,
    measured: Any,
    predicted: Sequence[Predicted],
    slot: int,
    width: int,
) -> Spec:
    """Points for what was measured, lines for what is predicted; residuals under them.

    Args:
        title: Of the quantity.
        unit: Its unit.
        time: s from the start of motion, shape (samples,).
        measured: Shape (samples,), NaN where nothing was measured.
        predicted: The job's prediction, then the corrected one where there is one.
        slot: The setup that was ridden; its colour draws the lines.
        width: Of the figure, px.
    """
    narrow = width < WIDE
    right = 16 if narrow else 110
    total = TOP + BOTTOM + HIGH + GAP + LOW
    inner = float(HIGH + GAP + LOW)
    put = layout(total, LEFT, right, TOP, BOTTOM)
    last = float(np.max(time)) if np.size(time) else 1.0
    first = float(np.min(time)) if np.size(time) else 0.0
    data: list[Spec] = []
    for k, one in enumerate(predicted):
        # The last is the one that counts: heavier, and named at its end.
        line = {"color": mark(slot).colour, "width": 2.6 if k == len(predicted) - 1 else 1.1}
        left = np.asarray(measured) - np.asarray(one.values)
        data.append(_trace(one.name, time, one.values, "y", unit, mode="lines", line=line))
        data.append(_trace(f"measured less {one.name}", time, left, "y2", unit, mode="lines",
                           line=line))  # fmt: skip
    dots = {"color": NEUTRAL, "size": 4}
    data.append(_trace("measured", time, measured, "y", unit, mode="markers", marker=dots))
    high = round_up(1.06 * finite_max([measured, *(p.values for p in predicted)]))
    off = [np.abs(np.asarray(measured) - np.asarray(p.values)) for p in predicted]
    far = round_up(1.1 * finite_max(off))
    split = HIGH / inner
    put["yaxis"] = axis(domain=[1 - split, 1], range=[_floor(measured, predicted, high), high],
                        anchor="x", fixedrange=True, nticks=7)  # fmt: skip
    put["yaxis2"] = axis(domain=[0, LOW / inner], range=[-far, far], anchor="x", fixedrange=True,
                         nticks=4)  # fmt: skip
    put["xaxis"] = axis(
        range=[first, last],
        anchor="y2",
        title=titled("time from the start, s"),
        fixedrange=narrow,
        nticks=5 if narrow else 12,
        unifiedhovertitle={"text": "%{x:.1f} s"},
    )
    heads = (
        (f"<b>{title}</b>, {unit}", 1.0),
        (f"<b>Measured less predicted</b>, {unit}", LOW / inner),
    )
    put["annotations"] += [
        note(text, x=0, y=y, xanchor="left", yanchor="bottom", yshift=8, xshift=4 - LEFT)
        for text, y in heads
    ]
    put["shapes"] += [_upright(0.0, 1 - split), _level()]
    put["annotations"].append(
        note(
            "start",
            x=0,
            xref="x",
            y=1 - split,
            yanchor="bottom",
            xanchor="right",
            xshift=-4,
            font={"size": 12, "color": SOFT},
        )
    )
    put["annotations"] += _names(time, measured, predicted, narrow=narrow)
    if narrow:
        put["dragmode"] = False
    return {"data": data, "layout": put}


def blank(said: str) -> Spec:
    """A figure that says why there is none."""
    put = layout(120)
    put["xaxis"], put["yaxis"] = axis(visible=False), axis(visible=False)
    put["annotations"] = [note(said, x=0.5, y=0.5, font={"size": 14, "color": SOFT})]
    return {"data": [], "layout": put}


def _trace(name: str, x: Any, y: Any, axis_of: str, unit: str, **more: Any) -> Spec:
    return {
        "type": "scatter",
        "name": plot_safe(name, 40),
        "x": packed(x),
        "y": packed(y),
        "yaxis": axis_of,
        "hovertemplate": f"%{{y:,.2f}} {unit}",
        **more,
    }


def _floor(measured: Any, predicted: Sequence[Predicted], high: float) -> float:
    """Foot of the axis: zero, or below the values where they lie far above it."""
    values = np.concatenate([np.ravel(measured), *(np.ravel(p.values) for p in predicted)])
    least = float(np.nanmin(values)) if np.isfinite(values).any() else 0.0
    spread = high - least
    return max(0.0, least - 0.1 * spread) if least > 0.5 * high else min(0.0, least)


def _names(time: Any, measured: Any, predicted: Sequence[Predicted], *, narrow: bool) -> list[Spec]:
    """Names at the lines' ends, below one another where they would run together."""
    if narrow:
        words = "dots: measured; line: " + ", ".join(p.name for p in predicted)
        return [note(words, x=0.02, y=1, xanchor="left", yanchor="top",
                     font={"size": 12, "color": SOFT})]  # fmt: skip
    ends = [("measured", measured), *((p.name, p.values) for p in predicted)]
    last = float(np.max(time)) if np.size(time) else 0.0
    made = []
    order = sorted(ends, key=lambda end: -_last(end[1]))
    for k, (name, values) in enumerate(order):
        made.append(
            note(
                plot_safe(name, 18),
                x=last,
                xref="x",
                y=_last(values),
                yref="y",
                xanchor="left",
                xshift=6,
                yshift=8 * (len(order) - 1) - 16 * k,
                font={"size": 13, "color": INK},
            )
        )
    return made


def _last(values: Any) -> float:
    there = np.asarray(values)[np.isfinite(values)]
    return float(there[-1]) if there.size else 0.0


def _upright(x: float, foot: float) -> Spec:
    return {"type": "line", "xref": "x", "yref": "paper", "x0": x, "x1": x, "y0": foot, "y1": 1,
            "line": {"color": NEUTRAL, "width": 1.2, "dash": "2px,4px"}}  # fmt: skip


def _level() -> Spec:
    return {"type": "line", "xref": "paper", "yref": "y2", "x0": 0, "x1": 1, "y0": 0, "y1": 0,
            "line": {"color": NEUTRAL, "width": 1.2}}  # fmt: skip
