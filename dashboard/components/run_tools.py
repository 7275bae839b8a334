"""What a run is timed to, typed: speeds, distances, the start, and one pack power for all."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html
from dash.exceptions import PreventUpdate

from curves.units import FOOT
from dashboard import ids
from dashboard.callbacks.keeping import keep
from dashboard.state import View
from dashboard.text import speed_factor
from dashboard.timed import Asked

MOST = 5
"""Speeds, and distances, timed at most."""
ROUND = 1e-6
"""A number this close to a whole one is meant to be it."""
SPEEDS = {"km/h": 1.0, "mph": 1 / speed_factor("mph")}
DISTANCES = {"": 1.0, "ft": 1.0, "m": 1 / FOOT}
"""km/h and ft in a unit."""
TYPED = re.compile(r"\s*([0-9]+(?:[.,][0-9]*)?)\s*(m|ft|mph|km/h)?\s*")


def speed_said(kmh: float) -> str:
    """A speed in the unit in which it is round."""
    return _said(kmh, "km/h", kmh * speed_factor("mph"), "mph")


def distance_said(feet: float) -> str:
    """A distance in the unit in which it is round."""
    return _said(feet, "ft", feet * FOOT, "m")


def distance(text: str) -> float | None:
    """A typed distance, ft; None where it is none."""
    return next(iter(_typed([text], (), distance_said, DISTANCES)), None)


def _said(value: float, unit: str, other: float, other_unit: str) -> str:
    if abs(other - round(other)) < ROUND < abs(value - round(value)):
        return f"{other:.0f} {other_unit}"
    return f"{value:.4g} {unit}"


def build(view: View) -> Any:
    """The controls."""
    asked = Asked.of(view)
    controls = [
        dmc.TagsInput(
            label="Speeds timed to, as 20 mph or 25 km/h",
            value=[speed_said(v) for v in asked.speeds_kmh],
            id="run-speeds",
            maxTags=MOST,
            size="xs",
        ),
        dmc.TagsInput(
            label="Distances timed, as 660 ft or 100 m",
            value=[distance_said(x) for x in asked.distances_ft],
            id="run-distances",
            maxTags=MOST,
            size="xs",
        ),
        dmc.Switch(
            label="Start the clock after one foot", checked=asked.roll_out, id="run-roll-out"
        ),
        dmc.Switch(label="Same pack power for all", checked=asked.equal, id="run-equal"),
        dmc.NumberInput(
            label="That power, W",
            value="" if asked.watts is None else asked.watts,
            placeholder="lowest ceiling",
            min=1,
            step=50,
            id="run-watts",
            size="xs",
        ),
    ]
    return html.Div(controls, className="pins")


def register(app: Dash) -> None:
    """What is typed is kept in the view."""

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input("run-speeds", "value"),
        Input("run-distances", "value"),
        Input("run-roll-out", "checked"),
        Input("run-equal", "checked"),
        Input("run-watts", "value"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def ask(speeds: Any, distances: Any, roll_out: Any, equal: Any, watts: Any, data: Any) -> Any:
        view = View.parse(data)
        before = Asked.of(view)
        typed = isinstance(watts, int | float) and watts > 0
        now = Asked(
            _typed(speeds, before.speeds_kmh, speed_said, {**SPEEDS, "": SPEEDS[view.speed]}),
            _typed(distances, before.distances_ft, distance_said, DISTANCES),
            bool(roll_out),
            bool(equal),
            float(watts) if typed else None,
        )
        if now == before:
            raise PreventUpdate
        return keep(view, replace(view, extra={**view.extra, "runs": now.kept()}))


def _typed(
    texts: Any, before: Sequence[float], said: Callable[[float], str], units: Mapping[str, float]
) -> tuple[float, ...]:
    """Typed numbers, in order; one that stands for a value at hand keeps its every digit.

    Args:
        texts: As typed, with a unit or without.
        before: The values at hand.
        said: How a value is written.
        units: What a number is multiplied by, by the unit behind it; "" for none.
    """
    found = []
    for text in map(str, texts if isinstance(texts, list) else ()):
        known = next((x for x in before if said(x) == text), None)
        parts = TYPED.fullmatch(text)
        factor = None if parts is None else units.get(parts[2] or "")
        if known is None and parts is not None and factor is not None:
            known = float(parts[1].replace(",", ".")) * factor
        if known is not None and 0 < known < 10_000:
            found.append(known)
    return tuple(sorted(set(found)))[:MOST]
