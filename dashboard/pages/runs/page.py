"""How quick? Runs from rest: splits by speed and by distance, and the run over time and way."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from dash import Dash, html
from numpy.typing import NDArray

from curves.parts.labels import MAY_NOT_GET_THERE
from curves.words.digits import is_even, spanned
from dashboard.answers.setups import Comparison, Reading
from dashboard.base import quantities
from dashboard.base.words import listed, number, speed, unbroken
from dashboard.pages.runs import figure_runs as drawn
from dashboard.pages.runs import run_tools
from dashboard.pages.runs.study import Asked, Run, ridden, ridden_freely, shared_watts, starts
from dashboard.state.session import View
from dashboard.widgets import result_columns as results
from dashboard.widgets.figure_card import figure_card
from dashboard.widgets.follow import follow
from dashboard.widgets.marks import change, soft
from dashboard.widgets.page import Page
from dashboard.widgets.setups_table import Column

OVER_TIME, OVER_WAY, HELD = "run-time", "run-way", "run-held"
MOST_NAMED = 5
"""More setups than these are counted in a sentence, not named."""


def answer(compared: Comparison, view: View) -> Any:
    """Who is quickest to the first target, and by how much."""
    runs, asked = ridden(compared, view), Asked.of(view)
    heads = _heads(asked, view)
    if not runs or not heads:
        return html.H1("Show a setup and ask for a speed or a distance to time it to.")
    said = [_said(runs, compared.reference, head, k) for k, head in enumerate(heads)]
    if asked.equal:
        said.insert(0, _left(runs, compared, view, heads))
    how = "one foot of roll-out" if asked.roll_out else "a standing start"
    state = "Charge and temperatures are held as the rows say; the rider’s reaction is left out."
    more = [*said[1:], *_short(runs, heads), f"Timed from {how}. {state}"]
    return [
        html.H1(unbroken(said[0])),
        html.Ul([html.Li(unbroken(x)) for x in more], className="more"),
    ]


def _left(
    runs: Sequence[tuple[Reading, Run]], compared: Comparison, view: View, heads: Sequence[str]
) -> str:
    """What is left of the differences at the same pack power."""
    own = ridden_freely(compared, view)
    watts = f"the same {number(shared_watts(compared, view))} W"
    which = "" if Asked.of(view).watts else ", the lowest of their own ceilings"
    for k, head in enumerate(heads):
        pairs = np.array([[_times(run)[k] for _, run in some] for some in (runs, own)])
        both = pairs[:, np.isfinite(pairs).all(axis=0)]
        if both.shape[1] > 1:
            left, before = (number(float(np.ptp(x)), 2) for x in both)
            return (
                f"Drawing {watts}{which}, the setups are {left} s apart to {head}; "
                f"with their own tunes {before} s."
            )
    return f"Every setup draws at most {watts}{which}."


def _short(runs: Sequence[tuple[Reading, Run]], heads: Sequence[str]) -> list[str]:
    """Who cannot start, and who never gets to a target that others reach."""
    stuck = [r.name for r, run in runs if not math.isfinite(run.end_kmh)]
    said = [f"{_named(stuck)} cannot start here."] if stuck else []
    for k, head in enumerate(heads):
        short = [
            r.name for r, run in runs if r.name not in stuck and not math.isfinite(_times(run)[k])
        ]
        if short and len(short) + len(stuck) < len(runs):
            said.append(f"{_named(short)} never {'get' if len(short) > 1 else 'gets'} to {head}.")
    return said


def _named(names: Sequence[str]) -> str:
    many = len(names) > MOST_NAMED
    return f"{len(names)} setups" if many else listed([f"“{name}”" for name in names])


def _heads(asked: Asked, view: View) -> list[str]:
    return [
        *(_speed_said(v, view.speed) for v in asked.speeds_kmh),
        *map(_distance_said, asked.distances_ft),
    ]


def _distance_said(feet: float) -> str:
    """A distance, with what the drag strip calls it."""
    said = quantities.distance_said(feet)
    name = {660.0: "1/8 mile", 1320.0: "1/4 mile"}.get(feet)
    return f"{name}, {said}" if name else said


def _speed_said(kmh: float, unit: str) -> str:
    """A speed in the unit in which it is round, and in the one that is read."""
    said = quantities.speed_said(kmh)
    return said if said.endswith(unit) else f"{said} ({speed(kmh, unit, 0)} {unit})"


def _times(run: Run) -> list[float]:
    return [float(x) for x in (*run.speed_time, *run.distance_time)]


def _time(seconds: float, band: NDArray[np.float64]) -> str:
    low, high = (float(x) for x in band)
    if low == high or is_even(seconds, low, high):
        return f"{number(seconds, 1)} ± {number(max((high - low) / 2, 0.1), 1)} s"
    return spanned(seconds, low, high, "s", none=MAY_NOT_GET_THERE)


def _said(runs: Sequence[tuple[Reading, Run]], reference: Reading | None, head: str, k: int) -> str:
    able = [(_times(run)[k], run.band[:, k], r) for r, run in runs if np.isfinite(_times(run)[k])]
    if not able:
        return f"No setup gets to {head}."
    best, band, _ = min(able, key=lambda x: x[0])
    tied = [r.name for t, _, r in able if t - best < 0.005 * best]
    time = _time(best, band)
    if len(runs) == 1:
        return f"{_named(tied)} gets to {head} in {time}."
    who = f"{_named(tied)} {'is' if len(tied) == 1 else 'are level and'} quickest"
    text = f"{who} to {head}: {time}"
    other = next((t for t, _, r in able if r is reference), math.nan)
    if reference is not None and reference.name not in tied and math.isfinite(other):
        text += f", {number(other - best, 1)} s before “{reference.name}”"
    return text + "."


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """A column a target."""
    asked = Asked.of(view)
    found = {r.slot: run for r, run in ridden(compared, view)}

    def split(k: int) -> Callable[[Reading, Reading | None], Any]:
        def cell(r: Reading, against: Reading | None) -> Any:
            run = found.get(r.slot)
            if run is None:
                return None
            time = _times(run)[k]
            if not math.isfinite(time):
                return soft("not reached" if starts(r) else "cannot start")
            parts = [html.Span(number(time, 2), className="figure")]
            other = found.get(against.slot) if against is not None else None
            if other is not None:
                parts += change(time - _times(other)[k], 2)
            at = k - len(asked.speeds_kmh)
            if at >= 0 and math.isfinite(run.distance_kmh[at]):
                trap = run.trap_kmh[at]
                through = trap if math.isfinite(trap) else run.distance_kmh[at]
                parts.append(soft(f"at {speed(through, view.speed, 0)} {view.speed}"))
            return parts

        return cell

    meaning = "Time from the start, s; the difference to the setup compared to; speed in the trap"
    timed = [
        Column(f"split-{k}", f"To {head}, s", meaning, split(k), "pinned")
        for k, head in enumerate(_heads(asked, view))
    ]
    return [*timed, results.care_column(compared, view)]


def body(compared: Comparison, view: View) -> Any:
    """What is timed, and the plots."""
    runs = ridden(compared, view)
    return [
        figure_card(
            OVER_TIME,
            "Over time",
            "From the start; where lines run together the setups are level.",
            drawn.over_time(runs, view),
            "Speed, way and force of every setup over time.",
            run_tools.build(view),
        ),
        figure_card(
            HELD,
            "What holds it back",
            "What would have to give for more force, from the start on.",
            drawn.holding_back(runs, view),
            "What holds the force of every setup along its run.",
        ),
        figure_card(
            OVER_WAY,
            "Over the way",
            "Speed where the bike is, and how many seconds later it comes by.",
            drawn.over_way(runs, compared.reference, view),
            "Speed of every setup over distance, and its difference in seconds.",
        ),
    ]


def register(app: Dash) -> None:
    """The plots follow the job; what is timed is kept in the view."""
    follow(
        app,
        OVER_TIME,
        lambda c, v: drawn.over_time(ridden(c, v), v),
        lambda c, v: drawn.numbers_over_time(ridden(c, v), v),
    )
    follow(
        app,
        HELD,
        lambda c, v: drawn.holding_back(ridden(c, v), v),
        lambda c, v: drawn.numbers_holding_back(ridden(c, v)),
    )
    follow(
        app,
        OVER_WAY,
        lambda c, v: drawn.over_way(ridden(c, v), c.reference, v),
        lambda c, v: drawn.numbers_over_way(ridden(c, v)),
    )
    run_tools.register(app)


PAGE = Page("/runs", "How quick?", answer, body, columns, register)
