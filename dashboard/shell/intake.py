"""The short form: opened, read, and made a job of."""

from __future__ import annotations

from typing import Any

from dash import ALL, Dash, Input, Output, State, no_update
from dash.exceptions import PreventUpdate

from curves import JobError
from curves.intake import first_job
from dashboard.base import ids
from dashboard.shell.intake_form import asked, buys, form, wrong
from dashboard.state.session import Session, View

PRICED = ("range_km", "budget", "price_per_kwh")


def register(app: Dash) -> None:
    """Wire the form."""

    @app.callback(
        Output(ids.INTAKE, "opened"),
        Output(ids.INTAKE_BODY, "children"),
        Input(ids.INTAKE_OPEN, "n_clicks"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def open_form(clicks: Any, view: Any) -> tuple[bool, Any]:
        if not clicks:
            raise PreventUpdate
        return True, form(View.parse(view).units)

    fields = {"type": "intake", "field": ALL}

    @app.callback(
        Output(ids.INTAKE_BUYS, "children"),
        *(Input(ids.intake(field), "value") for field in PRICED),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def budget(*told: Any) -> str:
        *values, view = told
        units = View.parse(view).units
        try:
            return buys(asked(dict(zip(PRICED, values, strict=True)), units), units)
        except ValueError as error:
            return str(error)

    @app.callback(
        Output(ids.SESSION, "data", allow_duplicate=True),
        Output(ids.INTAKE, "opened", allow_duplicate=True),
        Output(ids.INTAKE_SAID, "children"),
        Output(fields, "error"),
        Input(ids.INTAKE_MAKE, "n_clicks"),
        State(fields, "value"),
        State(fields, "id"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def make(clicks: Any, values: Any, names: Any, view: Any) -> tuple[Any, ...]:
        if not clicks:
            raise PreventUpdate
        answers = {name["field"]: value for name, value in zip(names, values, strict=True)}
        units = View.parse(view).units
        found = wrong(answers, units)
        beside = [found.get(field) for field in answers]
        try:
            job = first_job(asked(answers, units))
        except (JobError, ValueError) as error:
            return no_update, True, str(error), beside
        return {**Session.of(job).data(), "whole": True, "step": True}, False, "", beside
