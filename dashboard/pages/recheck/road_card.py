"""Times of a bike that coasts, and the rolling resistance and drag they give."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from dash import Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate

from curves import JobError
from curves.measured.coasts import with_road_load
from curves.measured.logs import demo_coast_text
from curves.measured.readings import bench_tree, right_rows
from curves.units import AS_WRITTEN, Units
from curves.words.digits import digits
from dashboard.answers.setups import Comparison, read
from dashboard.base import ids
from dashboard.base.words import NONE, unbroken, with_unit
from dashboard.pages.recheck.study import ROAD, coasted, ridden, road_tree
from dashboard.state.session import View, read_session
from dashboard.widgets import readings
from dashboard.widgets.attributes import attributes
from dashboard.widgets.buttons import main_button, plain_button
from dashboard.widgets.figure_card import numbers_table
from dashboard.widgets.patch import keep
from dashboard.widgets.readings import problem_said

TIMES = readings.Table("coast_down", ("direction", "from_kmh", "to_kmh", "seconds"))
BIKE = readings.Table("coast_bike", ("mass_kg", "rotating_share", "air_c"), several=False)
TABLES = {table.name: table for table in (TIMES, BIKE)}
STEPS = (
    "On a calm day, on a flat straight road, ride up to speed, close the throttle, sit still.",
    "Stop the time between two speeds of the display: 40 to 30, 30 to 20, 20 to 10 and so on.",
    "Do the same back along the same road, each at least twice, so that wind and slope can be "
    "told from the bike.",
)


def card(compared: Comparison, view: View) -> Any:
    """How it is done, the times, and what they give."""
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Coast down: drag and rolling resistance"),
                    html.P("With a stop-watch; no logger is needed.", className="lead"),
                    html.Div(
                        plain_button("Take the demonstration’s times", id="road-demo"),
                        className="buttons",
                    ),
                ],
                className="card-head",
            ),
            html.Ol([html.Li(step) for step in STEPS], className="steps"),
            *(
                html.Div(_editor(table.name, readings.tree_of(view, ROAD), view.units),
                         id=readings.place(ROAD, table.name))
                for table in TABLES.values()
            ),
            html.Div(found(compared, view), id="road-found"),
            html.P("", id="road-done", role="status", className="soft"),
            html.P(
                "Logs of coasting: rimforce coast-down --out LOG --back LOG --setup NAME. Coast "
                "where it is safe and allowed; values are estimates that hold for this mass.",
                className="soft",
            ),
        ],
        className="card",
        **attributes(aria_label="Coast down"),
    )  # fmt: skip


def _editor(name: str, tree: readings.Tree, units: Units = AS_WRITTEN) -> Any:
    return readings.editor(ROAD, TABLES[name], tree, units)


def found(compared: Comparison, view: View) -> Any:
    """Rolling resistance, drag, wind and slope; or what is missing."""
    reading, tree = ridden(compared, view), readings.tree_of(view, ROAD)
    if reading is None:
        return html.P("Show a setup to say what rolled.", className="soft")
    _, wrong = right_rows(road_tree(tree, reading), name="Times")
    left_out = [html.Li(problem_said(problem)) for problem in wrong]
    mass = with_unit(reading.rig.mass_kg, "kg", view.units, 1)
    own = f"What is left empty is as “{reading.name}” has it ({mass})."
    try:
        coast = coasted(tree, reading)
    except JobError:
        return [
            html.P(f"{own} Two timed intervals or more give a result.", className="soft"),
            html.Ul(left_out, className="looks"),
        ]
    rows = [
        ["Rolling resistance over weight", digits(coast.rolling_coefficient),
         digits(coast.rolling_uncertainty, 2), ""],
        ["Drag area", digits(coast.drag_area), digits(coast.area_uncertainty, 2), "m²"],
        ["Wind along the road, against those who ride out", digits(coast.wind, 2), NONE, "m/s"],
        ["Slope, up for those who ride out", digits(100 * coast.grade, 2), NONE, "%"],
    ]  # fmt: skip
    warm = with_unit(20, "°C", view.units)
    motor = "" if reading.rig.motor.overrunning_clutch else " What its motor drags is taken off."
    return [
        numbers_table(("Found", "Value", "±", "Unit"), rows,
                      f"From {coast.readings} times, in air of {warm} at sea level"),
        html.P(f"{own}{motor}", className="soft"),
        html.Ul(
            [*left_out, *(html.Li(unbroken(x)) for x in coast.warnings)], className="looks"
        ),
        main_button("Put it into the job", id="road-put"),
    ]  # fmt: skip


def register(app: Dash) -> None:
    """Typing, the demonstration's times, and what becomes of the result."""
    readings.register(app, ROAD, list(TABLES.values()), _editor)
    kept = (State(ids.SESSION, "data"), State(ids.VIEW, "data"))

    @app.callback(
        Output("road-found", "children"), Input(ids.SETTLED, "data"), *kept,
        prevent_initial_call=True,
    )  # fmt: skip
    def follow(_rested: Any, session: Any, view: Any) -> Any:
        return found(*read(session, view))

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Output(readings.place(ROAD, TIMES.name), "children", allow_duplicate=True),
        Output(readings.place(ROAD, BIKE.name), "children", allow_duplicate=True),
        Input("road-demo", "n_clicks"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def demo(clicks: Any, data: Any) -> tuple[Any, Any, Any]:
        if not clicks:
            raise PreventUpdate
        whole, view = bench_tree(demo_coast_text()), View.parse(data)
        tree = {name: whole[name] for name in TABLES}
        drawn = (_editor(name, tree, view.units) for name in TABLES)
        return keep(view, readings.with_tree(view, ROAD, tree)), *drawn

    @app.callback(
        Output(ids.SESSION, "data", allow_duplicate=True),
        Output("road-done", "children"),
        Input("road-put", "n_clicks"),
        *kept,
        prevent_initial_call=True,
    )
    def put(clicks: Any, session: Any, view: Any) -> tuple[Any, str]:
        compared, looked = read(session, view)
        reading = ridden(compared, looked)
        if not clicks or reading is None:
            raise PreventUpdate
        job = compared.job
        bike = next(row.bike for row in job.setup if row.name == reading.name)
        try:
            coast = coasted(readings.tree_of(looked, ROAD), reading)
            changed = replace(
                read_session(session), job=with_road_load(job, bike, coast, source="stop-watch")
            )
        except JobError as error:
            return no_update, f"The job cannot take it. {error}"
        told = f"“{bike}” has it now; Undo, above, takes it back."
        return {**changed.data(), "whole": True, "step": True}, told
