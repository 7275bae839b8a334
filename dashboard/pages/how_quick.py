"""How quick? Runs from rest: splits by speed and by distance, and the run over time and way."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import dash_mantine_components as dmc
import numpy as np
from dash import Dash, Input, Output, State, html
from dash.exceptions import PreventUpdate

from dashboard import ids
from dashboard.callbacks.cards import follow
from dashboard.components import result_columns as results
from dashboard.components.figure_card import figure_card
from dashboard.components.marks import soft
from dashboard.components.setups_table import Column
from dashboard.figures import lines
from dashboard.pages.registry import Page
from dashboard.results import Comparison, Reading
from dashboard.state import View
from dashboard.text import NONE, listed, number, signed, speed, speed_factor, unbroken
from dashboard.timed import Asked, Run, ridden

OVER_TIME, OVER_WAY = "run-time", "run-way"
TOOLS = "run-tools"


def answer(compared: Comparison, view: View) -> Any:
    """Who is quickest to the first target, and by how much."""
    runs, asked = ridden(compared, view), Asked.of(view)
    heads = _heads(asked, view)
    if not runs or not heads:
        return html.H1("Show a setup and ask for a speed or a distance to time it to.")
    said = [_said(runs, compared.reference, head, k) for k, head in enumerate(heads)]
    how = "one foot of roll-out" if asked.roll_out else "a standing start"
    state = "Charge and temperatures are held as the rows say; the rider’s reaction is left out."
    more = [*said[1:], f"Timed from {how}. {state}"]
    if asked.equal:
        more.append("Every setup is held to the same pack power: only its voltage differs.")
    never = [_never(runs, head, k) for k, head in enumerate(heads)]
    return [
        html.H1(unbroken(said[0])),
        html.Ul([html.Li(unbroken(x)) for x in (*more, *filter(None, never))], className="more"),
    ]


def _heads(asked: Asked, view: View) -> list[str]:
    return [
        *(_speed_said(v, view.speed) for v in asked.speeds_kmh),
        *(f"{_round(x)} ft" for x in asked.distances_ft),
    ]


def _speed_said(kmh: float, unit: str) -> str:
    """A speed in the unit in which it is round."""
    mph = kmh * speed_factor("mph")
    if unit == "km/h" and abs(mph - round(mph)) < 1e-6 < abs(kmh - round(kmh)):
        return f"{mph:.0f} mph ({kmh:.0f} km/h)"
    return f"{_round(kmh * speed_factor(unit))} {unit}"


def _round(x: float) -> str:
    return f"{x:.4g}"


def _times(run: Run) -> list[float]:
    return [float(x) for x in (*run.speed_time, *run.distance_time)]


def _bands(run: Run) -> list[float]:
    return [float(x) for x in (*run.speed_band, *run.distance_band)]


def _never(runs: Sequence[tuple[Reading, Run]], head: str, k: int) -> str:
    short = [r.name for r, run in runs if not np.isfinite(_times(run)[k])]
    if not short or len(short) == len(runs):
        return ""
    return f"Never at {head}: {listed([f'“{name}”' for name in short])}."


def _said(runs: Sequence[tuple[Reading, Run]], reference: Reading | None, head: str, k: int) -> str:
    able = [(_times(run)[k], _bands(run)[k], r) for r, run in runs if np.isfinite(_times(run)[k])]
    if not able:
        return f"No setup gets to {head}."
    best, band, first = min(able, key=lambda x: x[0])
    tied = [r.name for t, _, r in able if t - best < 0.005 * best]
    who = f"“{first.name}” is quickest" if len(tied) == 1 else f"{len(tied)} setups are level"
    text = f"{who} to {head}: {number(best, 1)} ± {number(max(band, 0.1), 1)} s"
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
                return NONE
            time = _times(run)[k]
            parts = [html.Span(number(time, 2), className="figure")]
            other = found.get(against.slot) if against is not None else None
            if other is not None and math.isfinite(time - _times(other)[k]):
                parts.append(html.Span(signed(time - _times(other)[k], 2), className="change"))
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
    return [
        figure_card(
            OVER_TIME,
            "Over time",
            "Speed from the start; where lines run together the setups are level.",
            _over_time(compared, view),
            "Speed and way of every setup over time.",
            _tools(view),
        ),
        figure_card(
            OVER_WAY,
            "Over the way",
            "Speed where the bike is, and how far behind the first it comes by.",
            _over_way(compared, view),
            "Speed and time lost of every setup over distance.",
        ),
    ]


def _tools(view: View) -> Any:
    asked = Asked.of(view)
    factor = speed_factor(view.speed)
    return html.Div(
        [
            dmc.TagsInput(
                label=f"Speeds timed to, {view.speed}",
                value=[_round(v * factor) for v in asked.speeds_kmh],
                id="run-speeds",
                maxTags=5,
                size="xs",
            ),
            dmc.TagsInput(
                label="Distances timed, ft",
                value=[_round(x) for x in asked.distances_ft],
                id="run-distances",
                maxTags=5,
                size="xs",
            ),
            dmc.Switch(
                label="Start the clock after one foot", checked=asked.roll_out, id="run-roll-out"
            ),
            dmc.Switch(label="Same pack power for all", checked=asked.equal, id="run-equal"),
        ],
        className="pins",
        id=TOOLS,
    )


def _last(runs: Sequence[tuple[Reading, Run]]) -> float:
    ends = [
        run.time[np.argmax(run.kmh >= 0.985 * run.kmh.max())] for _, run in runs if run.time.size
    ]
    return lines.whole(1.1 * max((float(x) for x in ends), default=10.0))


def _over_time(compared: Comparison, view: View) -> dict[str, Any]:
    runs = ridden(compared, view)
    factor, last = speed_factor(view.speed), _last(runs)

    def cut(run: Run, values: Any) -> tuple[Any, Any]:
        keep = run.time <= last
        return (
            np.concatenate(([0.0], run.time[keep])),
            np.concatenate(([0.0], np.asarray(values)[keep])),
        )

    fast = [lines.Line(r.slot, r.name, *cut(run, run.kmh * factor)) for r, run in runs]
    far = [lines.Line(r.slot, r.name, *cut(run, run.metres)) for r, run in runs]
    panels = [
        lines.Panel("Speed", view.speed, 260, fast),
        lines.Panel("Way", "m", 170, far),
    ]
    return lines.build(panels, "time, s", last, view.width)


def _over_way(compared: Comparison, view: View) -> dict[str, Any]:
    runs = ridden(compared, view)
    factor = speed_factor(view.speed)
    metres = np.linspace(2.0, 402.336, 120)
    times = {
        r.slot: np.interp(metres, run.metres, run.time, right=np.nan)
        for r, run in runs
        if run.time.size
    }
    first = np.min([*times.values(), np.full(metres.size, np.inf)], axis=0)
    fast = [
        lines.Line(r.slot, r.name, metres, np.interp(metres, run.metres, run.kmh * factor))
        for r, run in runs
        if run.time.size
    ]
    behind = [
        lines.Line(r.slot, r.name, metres, times[r.slot] - first)
        for r, run in runs
        if run.time.size
    ]
    panels = [
        lines.Panel("Speed", view.speed, 220, fast),
        lines.Panel("Behind the first", "s", 150, behind),
    ]
    return lines.build(panels, "distance, m", 402.336, view.width)


def _numbers(compared: Comparison, view: View) -> tuple[list[str], list[list[str]], str]:
    runs = ridden(compared, view)
    head = ["Time, s", *(r.name for r, _ in runs)]
    ends = _last(runs)
    rows = [
        [number(float(t), 1), *(_at(t, run, view) for _, run in runs)]
        for t in np.linspace(0.0, ends, 13)[1:]
    ]
    return head, rows, f"Speed, {view.speed}"


def _at(t: float, run: Run, view: View) -> str:
    if not run.time.size:
        return NONE
    return speed(float(np.interp(t, run.time, run.kmh)), view.speed)


def _numbers_way(compared: Comparison, view: View) -> tuple[list[str], list[list[str]], str]:
    runs = ridden(compared, view)
    head = ["Distance, m", *(r.name for r, _ in runs)]
    rows = [
        [
            number(x, 0),
            *(
                number(float(np.interp(x, run.metres, run.time)), 2) if run.time.size else NONE
                for _, run in runs
            ),
        ]
        for x in (18.288, 50.0, 100.0, 150.0, 201.168, 250.0, 300.0, 350.0, 402.336)
    ]
    return head, rows, "Time from the start, s"


def register(app: Dash) -> None:
    """The plots follow the job; what is timed is kept in the view."""
    follow(app, OVER_TIME, _over_time, _numbers)
    follow(app, OVER_WAY, _over_way, _numbers_way)

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input("run-speeds", "value"),
        Input("run-distances", "value"),
        Input("run-roll-out", "checked"),
        Input("run-equal", "checked"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def ask(speeds: Any, distances: Any, roll_out: Any, equal: Any, data: Any) -> Any:
        view = View.parse(data)
        before = Asked.of(view)
        factor = speed_factor(view.speed)
        now = Asked(
            _typed(speeds, before.speeds_kmh, factor),
            _typed(distances, before.distances_ft, 1.0),
            bool(roll_out),
            bool(equal),
        )
        if now == before:
            raise PreventUpdate
        return {**view.data(), "extra": {**view.extra, "runs": now.kept()}}


def _typed(texts: Any, before: tuple[float, ...], factor: float) -> tuple[float, ...]:
    """Typed numbers; one that stands for a value at hand keeps its every digit."""
    found = []
    for text in texts or ():
        known = next((x for x in before if _round(x * factor) == str(text)), None)
        try:
            value = known if known is not None else float(str(text).replace(",", ".")) / factor
        except ValueError:
            continue
        if 0 < value < 10_000:
            found.append(value)
    return tuple(sorted(set(found)))[:5]


PAGE = Page("/runs", "How quick?", answer, body, columns, register)
