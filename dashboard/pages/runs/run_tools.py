"""What a run is timed to, typed: speeds, distances, the start, and one pack power for all."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html
from dash.exceptions import PreventUpdate

from dashboard.base import ids
from dashboard.base.quantities import DISTANCES, SPEEDS, distance_said, speed_said, typed
from dashboard.pages.runs.study import Asked
from dashboard.state.session import View
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
        now = Asked(
            typed(speeds, before.speeds_kmh, speed_said, {**SPEEDS, "": SPEEDS[view.speed]})[:MOST],
            typed(distances, before.distances_ft, distance_said, DISTANCES)[:MOST],
            bool(roll_out),
            bool(equal),
            float(watts) if isinstance(watts, int | float) and watts > 0 else None,
        )
        if now == before:
            raise PreventUpdate
        return keep(view, replace(view, extra={**view.extra, "runs": now.kept()}))
