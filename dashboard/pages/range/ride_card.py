"""A ride described stretch by stretch in rows, and what every setup needs for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, html, no_update, set_props
from dash.exceptions import PreventUpdate

from curves.parts.base import SMALLEST
from curves.units import Units
from dashboard.answers.setups import Comparison, read
from dashboard.base import ids
from dashboard.base.words import NONE, number
from dashboard.pages.range.study import MOST_STRETCHES, Asked, rides, stretch
from dashboard.state.session import View
from dashboard.widgets.attributes import attributes
from dashboard.widgets.figure_card import numbers_table
from dashboard.widgets.marks import icon, soft
from dashboard.widgets.options import wrong_number
from dashboard.widgets.patch import keep

RIDE, RIDE_ROWS, RIDE_ADD, RIDE_OUT = "ride", "ride-rows", "ride-add", "ride-out"


def card(compared: Comparison, view: View) -> Any:
    """The rows, and below them what the ride takes."""
    return html.Section(
        [
            html.Div(
                [
                    html.H2("A ride"),
                    html.P(
                        "Stretch by stretch from the full charge asked for; starts and stops "
                        "between them are left out, and so is what braking could return.",
                        className="lead",
                    ),
                ],
                className="card-head",
            ),
            html.Div(rows(Asked.of(view), view.units), id=RIDE_ROWS),
            dmc.Button("Add a stretch", id=RIDE_ADD, variant="default", size="compact-sm"),
            html.Div(_ride_table(compared, view), id=RIDE_OUT, style={"marginTop": "14px"}),
        ],
        className="card",
        **attributes(aria_label="A ride"),
    )


def _ride_table(compared: Comparison, view: View) -> Any:
    found = rides(compared, view)
    if not Asked.of(view).ride:
        return soft("Add a stretch to see what it takes.")
    if found is None:
        return soft("Riding …")
    head = ["Setup", "Drawn, Wh", "Time, min", "Charge left, %", "Speeds held"]
    rows = [
        [
            r.name,
            number(x.wh) if x.done else NONE,
            number(60 * x.hours) if x.done else NONE,
            number(100 * x.charge) if x.done else NONE,
            ("all" if x.held else "not all") if x.done else "does not arrive",
        ]
        for r, x in found
    ]
    return numbers_table(head, rows, "What the ride takes")


def rows(asked: Asked, units: Units) -> Any:
    """The rows to type into."""
    return [
        html.Div([*_stretch(k, row, units), _remove(k)], className="pins", style=_ROW)
        for k, row in enumerate(asked.ride)
    ]


_ROW = {"marginLeft": 0, "marginBottom": "8px", "alignItems": "end"}


def _stretch(k: int, row: Sequence[float], units: Units) -> list[Any]:
    fields = (
        ("kmh", f"Speed, {units.name('km/h')}", _shown(row[0], "km/h", units), 5),
        ("percent", "Grade, %", row[1], 1),
        ("km", f"Distance, {units.name('km')}", _shown(row[2], "km", units), 0.5),
    )
    return [
        dmc.NumberInput(
            label=head,
            value=value,
            step=step,
            id={"type": RIDE, "field": field, "row": k},
            size="xs",
            style={"flex": "1 1 76px"},
            **attributes(aria_label=f"{head}, stretch {k + 1}"),
        )
        for field, head, value, step in fields
    ]


def _remove(k: int) -> Any:
    return dmc.ActionIcon(
        icon("remove"),
        id={"type": "ride-remove", "row": k},
        variant="subtle",
        size="md",
        style={"flex": "0 0 auto"},
        **attributes(aria_label=f"Remove stretch {k + 1}"),
    )


def register(app: Dash) -> None:
    """What is typed is kept in the view; the table follows."""
    _typing(app)
    _adding(app)

    @app.callback(
        Output(RIDE_OUT, "children"),
        Input(ids.SETTLED, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def taken(_rested: Any, session: Any, view: Any) -> Any:
        return _ride_table(*read(session, view))


def _typing(app: Dash) -> None:
    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input({"type": RIDE, "field": ALL, "row": ALL}, "value"),
        State({"type": RIDE, "field": ALL, "row": ALL}, "id"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def typed(values: Any, names: Any, data: Any) -> Any:
        view = View.parse(data)
        before = Asked.of(view)
        rows: dict[int, dict[str, Any]] = {}
        is_wrong = False
        for name, value in zip(names, values, strict=True):
            rows.setdefault(name["row"], {})[name["field"]] = value
            said = _wrong(name, value, before.ride, view.units)
            is_wrong |= bool(said)
            set_props(name, {"error": said or None})
        if is_wrong or len(rows) != len(before.ride):
            return no_update
        read = [_read(row, before.ride[k], view.units) for k, row in sorted(rows.items())]
        now = Asked(before.kmh, before.full, before.empty, tuple(filter(None, read)))
        # What is said beside a field would be lost with a callback that sets nothing.
        return no_update if now == before or None in read else asks(view, now)


FIELDS = {
    "kmh": ("km/h", SMALLEST, 200.0),
    "percent": ("%", -40.0, 40.0),
    "km": ("km", SMALLEST, 1000.0),
}
"""Of a stretch: unit, the least and the most."""


def _wrong(name: dict[str, Any], value: Any, ride: Sequence[Any], units: Units) -> str:
    """What is wrong with a number of a stretch and what holds on, empty for nothing."""
    unit, *ends = FIELDS[name["field"]]
    said = wrong_number(value, *(float(units.shown(end, unit)) for end in ends))
    if not said or not 0 <= name["row"] < len(ride):
        return said
    old = _shown(ride[name["row"]][[*FIELDS].index(name["field"])], unit, units)
    return f"{said}; {old:g} stays in force"


def _adding(app: Dash) -> None:
    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Output(RIDE_ROWS, "children"),
        Input(RIDE_ADD, "n_clicks"),
        Input({"type": "ride-remove", "row": ALL}, "n_clicks"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def change(_add: Any, _remove: Any, data: Any) -> Any:
        if not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        view, name = View.parse(data), ctx.triggered_id
        before = Asked.of(view)
        ride = list(before.ride)
        if name == RIDE_ADD:
            ride.append(ride[-1] if ride else (before.kmh, 0.0, 5.0))
        elif isinstance(name, dict) and name["row"] < len(ride):
            del ride[name["row"]]
        now = Asked(before.kmh, before.full, before.empty, tuple(ride[:MOST_STRETCHES]))
        return asks(view, now), rows(now, view.units)


def _shown(value: float, unit: str, units: Units) -> float:
    return round(float(units.shown(value, unit)), 2)


def _read(row: dict[str, Any], old: Sequence[float] | None, units: Units) -> Any:
    """A row as typed; a number that stands as it was shown keeps its every digit."""
    made = []
    for place, (field, unit) in enumerate((("kmh", "km/h"), ("percent", "%"), ("km", "km"))):
        value = row.get(field)
        if not isinstance(value, int | float):
            return None
        same = old is not None and _shown(old[place], unit, units) == value
        made.append(old[place] if same and old is not None else units.typed(value, unit))
    return stretch(made)


def asks(view: View, now: Asked) -> Any:
    """The view with what is asked now, for a callback to return.

    Raises:
        PreventUpdate: if nothing is new.
    """
    if now == Asked.of(view):
        raise PreventUpdate
    return keep(view, replace(view, extra={**view.extra, "range": now.kept()}))
