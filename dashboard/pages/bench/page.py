"""What motor is this? Bench readings typed in, and the motor they give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from curves import JobError
from curves.measured.logs import demo_bench_text
from curves.measured.profile import put_into
from curves.measured.readings import bench_text, bench_tree
from curves.parts.labels import label_of
from curves.parts.reading import decode
from curves.words.digits import banded, digits
from dashboard.answers.setups import Comparison
from dashboard.base import ids
from dashboard.base.words import listed, unbroken
from dashboard.pages.bench import motor_card
from dashboard.pages.bench.bench_guides import GUIDES, Guide
from dashboard.pages.bench.study import Found, found_in
from dashboard.state.session import View, read_session
from dashboard.state.uploads import decoded
from dashboard.widgets import readings
from dashboard.widgets.attributes import attributes
from dashboard.widgets.page import Page
from dashboard.widgets.patch import keep
from dashboard.widgets.setups_table import Column

NAME = "bench"
TABLES = {guide.table.name: guide for guide in GUIDES}
CAUTION = (
    "A spinning wheel, a drill and a charged pack can injure: clamp the bike, keep hands and "
    "clothes clear, fuse the supply. Values are estimates from these readings."
)


def answer(_compared: Comparison, view: View) -> Any:
    """The motor in one sentence, or what is still missing."""
    tree = readings.tree_of(view, NAME)
    if not readings.filled(tree):
        return [
            html.H1("Measure a motor with what a workshop has: type the readings below."),
            html.P("Or take the demonstration’s readings to see what comes out.", className="more"),
        ]
    found = found_in(tree)
    if found.profile is None:
        lacking = [label_of(p.where.rpartition(" ")[2]).lower() for p in found.missing]
        return html.H1(f"Not a motor yet: {listed(lacking)} still missing.")
    motor, values = found.profile.motor, found.derived.values

    def value(field: str) -> str:
        one = values.get(field)
        return digits(getattr(motor, field)) if one is None else banded(one.value, one.uncertainty)

    said = (
        f"This motor turns {value('kv_rpm_per_v')} rpm per volt, with "
        f"{value('resistance_ohm')} Ω between two leads and {motor.pole_pairs} pole pairs."
    )
    more = [
        f"Torque per {per}: {digits(x)} N·m." for per, x in found.profile.torque_per_ampere.items()
    ]
    looks = len(found.profile.warnings) + len(found.wrong)
    more.append(
        f"{looks} thing{'s' * (looks > 1)} to look at again, below."
        if looks
        else "Nothing in the readings speaks against another."
    )
    return [
        html.H1(unbroken(said)),
        html.Ul([html.Li(unbroken(x)) for x in more], className="more"),
    ]


def columns(_compared: Comparison, _view: View) -> Sequence[Column]:
    """None: the page is about a motor on the bench, not about setups."""
    return ()


def body(compared: Comparison, view: View) -> Any:
    """The motor, then the readings."""
    tree = readings.tree_of(view, NAME)
    return [
        html.Div(className="no-setups"),
        html.Section(
            html.Div(motor_card.values(tree), id="bench-result"),
            className="card",
            **attributes(aria_label="The motor"),
        ),
        html.Section(
            motor_card.use(compared, tree),
            className="card",
            **attributes(aria_label="Put it to use"),
        ),
        html.Section(
            [
                html.Div(
                    [
                        html.H2("The readings"),
                        html.P(
                            "Open one to see how it is taken. Everything typed stays in this "
                            "browser.",
                            className="lead",
                        ),
                        html.Div(_tools(), className="buttons"),
                    ],
                    className="card-head",
                ),
                html.P(CAUTION, className="note"),
                html.Div(motor_card.left_out(tree), id="bench-wrong"),
                html.Div(_sections(view), id="bench-sections"),
            ],
            className="card",
            **attributes(aria_label="The readings"),
        ),
    ]


def _tools() -> list[Any]:
    return [
        dmc.Button(
            "Take the demonstration’s", id="bench-demo", variant="default", size="compact-sm"
        ),
        dcc.Upload(
            dmc.Button("Open a file …", variant="default", size="compact-sm"), id="bench-open"
        ),
        dmc.Button("Save the readings", id="bench-save", variant="default", size="compact-sm"),
        dmc.Button("Begin afresh", id="bench-clear", variant="default", size="compact-sm"),
    ]


def _sections(view: View) -> Any:
    tree = readings.tree_of(view, NAME)
    found = found_in(tree)
    return dmc.Accordion(
        [
            dmc.AccordionItem(
                [
                    dmc.AccordionControl(
                        [
                            html.Span(guide.title),
                            html.Span(
                                _gives(guide, found),
                                id={"type": "bench-gives", "table": guide.table.name},
                                className="gives",
                            ),
                        ]
                    ),
                    dmc.AccordionPanel(
                        [
                            html.Ol([html.Li(step) for step in guide.steps], className="steps"),
                            html.Div(
                                readings.editor(NAME, guide.table, tree, view.units),
                                id=readings.place(NAME, guide.table.name),
                            ),
                        ]
                    ),
                ],
                value=guide.table.name,
            )
            for guide in GUIDES
        ],
        id="bench-open-sections",
        multiple=True,
        chevronPosition="left",
        order=3,
    )


def _gives(guide: Guide, found: Found) -> str:
    values = found.derived.values
    return "; ".join(
        motor_card.measured(values[field], field) for field in guide.gives if field in values
    )


def register(app: Dash) -> None:
    """Typing, files, and what becomes of the motor."""
    readings.register(
        app,
        NAME,
        [guide.table for guide in GUIDES],
        lambda name, tree, units: readings.editor(NAME, TABLES[name].table, tree, units),
    )
    _following(app)
    _opening(app)
    _using(app)


def _following(app: Dash) -> None:
    @app.callback(
        Output("bench-result", "children"),
        Output("bench-wrong", "children"),
        Output({"type": "bench-gives", "table": ALL}, "children"),
        Output("bench-put", "disabled"),
        Output("bench-profile", "disabled"),
        Input(ids.SETTLED, "data"),
        State({"type": "bench-gives", "table": ALL}, "id"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def follow(_rested: Any, names: Any, data: Any) -> Any:
        tree = readings.tree_of(View.parse(data), NAME)
        found = found_in(tree)
        gives = [
            _gives(TABLES[name["table"]], found) if name["table"] in TABLES else no_update
            for name in names
        ]
        nothing = found.profile is None
        return motor_card.values(tree), motor_card.left_out(tree), gives, nothing, nothing


def _opening(app: Dash) -> None:
    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Output("bench-sections", "children"),
        Output(ids.MESSAGE, "children", allow_duplicate=True),
        Input("bench-demo", "n_clicks"),
        Input("bench-clear", "n_clicks"),
        Input("bench-open", "contents"),
        State("bench-open", "filename"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def opened(demo: Any, clear: Any, contents: Any, name: Any, data: Any) -> tuple[Any, Any, str]:
        if not (demo or clear or contents):
            raise PreventUpdate
        try:
            tree = _asked_for(str(ctx.triggered_id), contents, name or "readings.toml")
        except JobError as error:
            return no_update, no_update, f"That file was not opened.\n{error}"
        view = View.parse(data)
        now = readings.with_tree(view, NAME, tree)
        return keep(view, now), _sections(now), ""

    @app.callback(
        Output(ids.DOWNLOAD, "data", allow_duplicate=True),
        Input("bench-save", "n_clicks"),
        Input("bench-profile", "n_clicks"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def save(readings_clicks: Any, profile_clicks: Any, data: Any) -> Any:
        tree = readings.tree_of(View.parse(data), NAME)
        if ctx.triggered_id == "bench-save" and readings_clicks:
            return {"content": bench_text(tree), "filename": "bench-readings.toml"}
        profile = found_in(tree).profile
        if not profile_clicks or profile is None:
            raise PreventUpdate
        return {"content": profile.text, "filename": "motor-profile.toml"}


def _asked_for(button: str, contents: Any, name: str) -> readings.Tree:
    """Readings of the demonstration, none, or those of a file."""
    if button == "bench-clear":
        return {}
    text = demo_bench_text() if button == "bench-demo" else decode(decoded(contents, name), name)
    tree = bench_tree(text, name=name)
    return {key: value for key, value in tree.items() if key != "format"}


def _using(app: Dash) -> None:
    @app.callback(
        Output(ids.SESSION, "data", allow_duplicate=True),
        Output("bench-done", "children"),
        Input("bench-put", "n_clicks"),
        State("bench-motor", "value"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def put(clicks: Any, motor: Any, data: Any, view: Any) -> tuple[Any, str]:
        if not clicks:
            raise PreventUpdate
        session, found = read_session(data), found_in(readings.tree_of(View.parse(view), NAME))
        if found.profile is None:
            return no_update, "There is no motor yet: see what is still missing above."
        name = "measured" if motor == motor_card.NEW else str(motor)
        try:
            job = put_into(session.job, name, found.profile)
        except JobError as error:
            return no_update, f"The job cannot take it. {error}"
        after = f"Laid over “{name}”" if name in session.job.motor else f"Added as “{name}”"
        changed = replace(session, job=job)
        return (
            {**changed.data(), "whole": True, "step": True},
            f"{after}; Undo, above, takes it back.",
        )


PAGE = Page("/motor", "What motor is it?", answer, body, columns, register)
