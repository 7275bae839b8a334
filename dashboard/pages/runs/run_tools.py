"""What a run is timed to, typed: speeds, distances, the start, and one pack power for all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html, no_update, set_props

from curves.parts.base import SMALLEST
from dashboard.base import ids
from dashboard.base.quantities import (
    DISTANCE_RIGHT,
    DISTANCES,
    MOST_FT,
    MOST_KMH,
    SPEED_RIGHT,
    SPEEDS,
    all_typed,
    distance_said,
    speed_said,
)
from dashboard.base.words import not_taken
from dashboard.pages.runs.study import MOST_W, Asked
from dashboard.state.session import View
from dashboard.widgets.options import wrong_number
from dashboard.widgets.patch import keep

MOST = 5
"""Speeds, and distances, timed at most."""


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
            placeholder="none: lowest ceiling",
            step=50,
            clampBehavior="none",
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
        switches = (bool(roll_out), bool(equal))
        now, wrong = read(before, view, speeds, distances, watts, switches)
        for name, said in wrong.items():
            set_props(name, {"error": said or None})
        # What is said beside a field would be lost with a callback that sets nothing.
        if now == before:
            return no_update
        return keep(view, replace(view, extra={**view.extra, "runs": now.kept()}))


def read(
    before: Asked,
    view: View,
    speeds: Sequence[Any] | None,
    distances: Sequence[Any] | None,
    watts: Any,
    switches: tuple[bool, bool],
) -> tuple[Asked, dict[str, str]]:
    """What is asked now, and what is wrong with each field, empty for nothing.

    Args:
        before: What was asked.
        view: For the unit of a speed typed without one.
        speeds: As typed, with a unit or without.
        distances: Likewise.
        watts: As the input gives it; emptied for the lowest ceiling.
        switches: Whether after a roll-out, and whether at one power.
    """
    units = {**SPEEDS, "": SPEEDS[view.speed]}
    fast, no_speeds = all_typed(speeds, before.speeds_kmh, speed_said, units, MOST_KMH, MOST)
    far, none = all_typed(distances, before.distances_ft, distance_said, DISTANCES, MOST_FT, MOST)
    bad = "" if watts in ("", None) else wrong_number(watts, SMALLEST, MOST_W)
    power = before.watts if bad else None if watts in ("", None) else float(watts)
    held = "the lowest ceiling" if before.watts is None else f"{before.watts:.9g} W"
    return Asked(fast, far, *switches, power), {
        "run-speeds": not_taken(no_speeds, SPEED_RIGHT),
        "run-distances": not_taken(none, DISTANCE_RIGHT),
        "run-watts": bad and f"{bad}; {held} stays in force",
    }
