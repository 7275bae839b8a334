"""Where a motor has no heat values: a picker that offers typical ones, and puts them in the job."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, MATCH, Dash, Input, Output, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from curves.parts.heating import (
    HALF,
    HEAT_FIELDS,
    INSULATION_C,
    KINDS,
    typical_heat,
    with_typical_heat,
)
from curves.parts.job import build_job
from curves.parts.labels import label_of
from curves.parts.motor import Motor
from curves.parts.notes import own
from curves.units import Units
from curves.words.digits import Written
from dashboard.base import ids
from dashboard.base.words import exact, with_unit
from dashboard.state.session import Session, View, read_session
from dashboard.widgets.attributes import attributes
from dashboard.widgets.fields import shown
from dashboard.widgets.figure_card import numbers_table
from dashboard.widgets.options import wrong_number

PLACE = "typical-heat"
TAKES = {"type": "typical-take", "motor": ALL, "unit": ALL}
KIND, MASS_KG, INSULATION = "direct-drive hub", 6.0, "B"
MASSES_KG = 0.1, 200.0
"""The least and the most of a motor."""


def lacking(session: Session) -> list[str]:
    """Names of motors in use that lack heat values or their winding's limit."""
    used = dict.fromkeys(setup.motor for setup in session.job.setup)
    return [name for name in used if _lacks(session.job.motor[name])]


def _lacks(motor: Motor) -> bool:
    return any(getattr(motor, name) is None for name in (*HEAT_FIELDS, "winding_limit_c"))


def offer(session: Session, units: Units) -> Any:
    """A card for each motor that lacks values."""
    return [_card(name, units) for name in lacking(session)]


def take(session: Session, name: str, kind: str, mass_kg: float, insulation: str) -> Session:
    """The session with typical values in a motor, where it has none.

    Args:
        session: What is edited.
        name: The motor.
        kind: One of ``KINDS``.
        mass_kg: Its mass, kg.
        insulation: Temperature class of its winding.

    Raises:
        ValueError: if kind or mass will not do.
        KeyError: if there is no such motor or class.
    """
    motor = session.job.motor[name]
    typical = with_typical_heat(motor, kind, mass_kg)
    new = {field: getattr(typical, field) for field in HEAT_FIELDS if getattr(motor, field) is None}
    sources = {field: typical.sources[field] for field in new}
    if motor.winding_limit_c is None:
        new["winding_limit_c"] = INSULATION_C[insulation]
        sources["winding_limit_c"] = f"typical: insulation of class {insulation}"
    tree = session.job.tree()
    table = tree["motor"][name]
    table.update(new)
    table["sources"] = {**table.get("sources", {}), **sources}
    unsure = {field: HALF for field in new if field in HEAT_FIELDS}
    table["tolerance"] = {**table.get("tolerance", {}), **unsure}
    return replace(session, job=build_job(own(tree), name="job"))


def _card(name: str, units: Units) -> Any:
    kind = {"type": "typical-kind", "motor": name}
    mass = {"type": "typical-mass", "motor": name}
    insulation = {"type": "typical-insulation", "motor": name}
    return html.Section(
        [
            html.Div(
                [
                    html.H2(f"Typical heat values for {name}"),
                    html.P(
                        "This motor has no heat values, and nobody prints them. Kind and mass "
                        "give typical ones: estimates, sure to half their size, and every answer "
                        "here is given with that band.",
                        className="lead",
                    ),
                ],
                className="card-head",
            ),
            html.Div(
                [
                    dmc.Select(
                        label="Kind of motor",
                        data=list(KINDS),
                        value=KIND,
                        id=kind,
                        allowDeselect=False,
                        size="xs",
                    ),
                    dmc.NumberInput(
                        label=f"Mass of the motor, {units.name('kg')}",
                        value=shown(MASS_KG, "kg", units),
                        min=shown(MASSES_KG[0], "kg", units),
                        max=shown(MASSES_KG[1], "kg", units),
                        step=0.5,
                        clampBehavior="none",
                        id=mass,
                        size="xs",
                    ),
                    dmc.Select(
                        label="Insulation, if no limit is given",
                        data=[
                            {"value": k, "label": f"class {k}, {with_unit(c, '°C', units)}"}
                            for k, c in INSULATION_C.items()
                        ],
                        value=INSULATION,
                        id=insulation,
                        allowDeselect=False,
                        size="xs",
                    ),
                    dmc.Button(
                        "Take these values",
                        id=_taken(name, units),
                        size="compact-sm",
                        style={"alignSelf": "end"},
                    ),
                ],
                className="pins",
                style={"marginLeft": 0, "marginBottom": "12px"},
            ),
            html.Div(_values(KIND, MASS_KG), id={"type": "typical-values", "motor": name}),
        ],
        className="card",
        **attributes(aria_label=f"Typical heat values for {name}"),
    )


def _taken(name: str, units: Units) -> dict[str, str]:
    """The button; named by unit, for the mass beside it is in it."""
    return {"type": "typical-take", "motor": name, "unit": units.name("kg")}


def _values(kind: str, mass_kg: float) -> Any:
    fields = Motor.model_fields
    rows = []
    for field, value in typical_heat(kind, mass_kg).items():
        extra = fields[field].json_schema_extra
        unit = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
        rows.append(
            [label_of(field), exact(value, 3), Written(f"± {HALF * value:.2g}", HALF * value), unit]
        )
    return numbers_table(["", "Typical", "Sure to", "Unit"], rows, "Typical heat values")


def register(app: Dash) -> None:
    """The offer follows kind and mass; a button takes it."""

    @app.callback(
        Output({"type": "typical-values", "motor": MATCH}, "children"),
        Output({"type": "typical-mass", "motor": MATCH}, "error"),
        Input({"type": "typical-kind", "motor": MATCH}, "value"),
        Input({"type": "typical-mass", "motor": MATCH}, "value"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def values(kind: Any, mass: Any, view: Any) -> Any:
        units = View.parse(view).units
        ends = [float(units.shown(end, "kg")) for end in MASSES_KG]
        if wrong := wrong_number(mass, *ends):
            return no_update, f"{wrong}; the values below are of the mass before"
        return _values(kind, units.typed(float(mass), "kg")), None

    @app.callback(
        Output(ids.SESSION, "data", allow_duplicate=True),
        Input(TAKES, "n_clicks"),
        State(TAKES, "id"),
        State({"type": "typical-kind", "motor": ALL}, "value"),
        State({"type": "typical-mass", "motor": ALL}, "value"),
        State({"type": "typical-insulation", "motor": ALL}, "value"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def taken(
        clicks: Any, which: Any, kinds: Any, masses: Any, insulations: Any, data: Any, view: Any
    ) -> Any:
        if not any(clicks):
            raise PreventUpdate
        k = which.index(dict(ctx.triggered_id))
        try:
            mass = View.parse(view).units.typed(float(masses[k]), "kg")
            session = take(read_session(data), which[k]["motor"], kinds[k], mass, insulations[k])
        except (TypeError, ValueError, KeyError):
            raise PreventUpdate from None
        return session.data()

    @app.callback(
        Output(PLACE, "children"),
        Input(ids.SETTLED, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        State(TAKES, "id"),
        prevent_initial_call=True,
    )
    def offered(_rested: Any, data: Any, view: Any, there: Any) -> Any:
        session, units = read_session(data), View.parse(view).units
        if [_taken(name, units) for name in lacking(session)] == there:
            raise PreventUpdate
        return offer(session, units)
