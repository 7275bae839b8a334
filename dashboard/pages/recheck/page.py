"""Does it agree? Five numbers read without a logger against the prediction, and coasting down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, html, no_update, set_props
from dash.exceptions import PreventUpdate

from curves.measured.recheck import Recheck
from curves.parts.labels import possessive
from curves.units import Units
from curves.words.digits import digits
from curves.words.recheck import sentences
from dashboard.answers.setups import Comparison, read
from dashboard.base import ids
from dashboard.base.words import number, signed, unbroken
from dashboard.pages.recheck import road_card
from dashboard.pages.recheck.study import (
    ENDS,
    UNITS,
    checked,
    kept_number,
    problem,
    ridden,
    work,
    worked_out,
)
from dashboard.pages.recheck.study import PAGE as NAME
from dashboard.state.session import View
from dashboard.widgets import choice
from dashboard.widgets.attributes import attributes
from dashboard.widgets.choice import kept
from dashboard.widgets.figure_card import numbers_table
from dashboard.widgets.options import wrong_number
from dashboard.widgets.page import Page
from dashboard.widgets.patch import keep
from dashboard.widgets.progress import fill, place
from dashboard.widgets.setups_table import Column

ROWS = (
    ("Top speed", "top_speed_kmh", "", ""),
    ("Pack at rest, after some minutes", "resting_v", "", ""),
    ("Pack under load", "loaded_v", "at", "amperes"),
    ("Motor once it gets no hotter", "motor_c", "at a steady", "motor_speed_kmh"),
    ("Energy from the pack", "wh_per_km", "at a steady", "wh_speed_kmh"),
)
"""What is read, its field, and what it means nothing without."""


def answer(compared: Comparison, view: View) -> Any:
    """Agree or not, and what is likeliest wrong."""
    reading, why = ridden(compared, view), problem(view)
    if reading is None:
        return html.H1("Show a setup to check numbers against it.")
    if why:
        return [
            html.H1(f"Does “{reading.name}” do what was predicted? Type what you read, below."),
            html.P(why, className="more"),
        ]
    found = checked(compared, view)
    if found is None:
        return html.H1(f"Checking “{reading.name}” …")
    known = [check for check in found.checks if not math.isnan(check.predicted)]
    off = [check for check in known if not check.agrees]
    if not off:
        all_ = f"All {len(known)} numbers agree" if len(known) > 1 else "The number agrees"
        said = f"{all_} with what is predicted of “{reading.name}”."
    else:
        likely = possessive(found.suspects[0].name) if found.suspects else "more than one input"
        count = f"{len(off)} of {len(known)} numbers do" if len(known) > 1 else "The number does"
        said = f"{count} not agree with “{reading.name}”; likeliest wrong: {likely}."
    return [
        html.H1(unbroken(said)),
        html.P(
            "A band is 5 to 95 % from the job’s tolerances; your meters’ own uncertainty counts "
            "too.",
            className="more",
        ),
    ]


def columns(_compared: Comparison, _view: View) -> Sequence[Column]:
    """None: the page is about one setup."""
    return ()


def body(compared: Comparison, view: View) -> Any:
    """The numbers, what they say, and the coast-down."""
    return [
        html.Div(className="no-setups"),
        html.Section(
            [
                html.Div(
                    [
                        html.H2("What you read"),
                        html.P("Any of the five; leave out what you have not.", className="lead"),
                        html.Div(
                            choice.choice(compared, NAME, ridden(compared, view)), className="pins"
                        ),
                    ],
                    className="card-head",
                ),
                html.Div(_fields(view), id="recheck-fields"),
                place(NAME, view),
                html.Div(_said(checked(compared, view), view.units), id="recheck-said"),
            ],
            className="card",
            **attributes(aria_label="What you read"),
        ),
        road_card.card(compared, view),
    ]


def _fields(view: View) -> Any:
    return html.Div(
        [
            html.Div(
                [_field(key, label, view), *([_field(other, word, view)] if other else [])],
                className="read",
            )
            for label, key, word, other in ROWS
        ]
    )


def _field(key: str, label: str, view: View) -> Any:
    unit, value = UNITS[key], kept_number(view, key)
    if isinstance(value, int | float):
        value = float(f"{view.units.shown(value, unit):.6g}")
    return dmc.NumberInput(
        id={"type": "recheck", "key": key, "unit": view.units.name(unit)},
        label=f"{label}, {view.units.name(unit)}",
        value="" if value is None else value,
        hideControls=True,
        clampBehavior="none",
        allowedDecimalSeparators=[".", ","],
        size="xs",
    )


def _said(found: Recheck | None, units: Units) -> Any:
    """Number by number, then the suspects."""
    if found is None:
        return None
    rows = [_check(check, units) for check in found.checks]
    made: list[Any] = [
        html.Div(
            numbers_table(("Reading", "Read", "Predicted", "From", "To", "Verdict"), rows,
                          "Each number beside its prediction"),
            className="found",
        )
    ]  # fmt: skip
    if found.suspects:
        made.append(
            numbers_table(
                ("Suspect", "In the job", "Would fit", "Explains", "Usual uncertainties off"),
                [_suspect(one, units) for one in found.suspects],
                "The likeliest first",
            )
        )
        made.append(
            html.P(
                "Each alone and to first order: measure it before changing it.", className="soft"
            )
        )
    elif any(not c.agrees and not math.isnan(c.predicted) for c in found.checks):
        made.append(html.P(sentences(found)[-1]))
    return made


def _check(check: Any, units: Units) -> list[str]:
    unit = UNITS[check.quantity]
    values = (check.measured, check.predicted, check.low, check.high)
    shown = [digits(units.shown(x, unit)) for x in values]
    title = f"{check.title[0].upper()}{check.title[1:]}, {units.name(unit)}"
    return [title, *shown, check.verdict]


def _suspect(one: Any, units: Units) -> list[str]:
    return [
        f"{one.title}, {units.name(one.unit)}".removesuffix(", "),
        *(digits(units.shown(x, one.unit)) for x in (one.value, one.needed)),
        number(100 * one.explains, unit="%"),
        signed(one.sigmas, 1),
    ]


def register(app: Dash) -> None:
    """What is typed is kept in the view; the rest follows."""
    choice.register(app, NAME)
    fill(app, NAME, worked_out, work)
    road_card.register(app)
    _typing(app)
    kept_here = (State(ids.SESSION, "data"), State(ids.VIEW, "data"))

    @app.callback(
        Output("recheck-said", "children"),
        Input(ids.SETTLED, "data"),
        *kept_here,
        prevent_initial_call=True,
    )
    def follow(_rested: Any, session: Any, view: Any) -> Any:
        compared, looked = read(session, view)
        return _said(checked(compared, looked), looked.units)

    @app.callback(
        Output("recheck-fields", "children"),
        Input(ids.SETTLED, "data"),
        State({"type": "recheck", "key": ALL, "unit": ALL}, "id"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def in_other_units(_rested: Any, names: Any, data: Any) -> Any:
        view = View.parse(data)
        if all(name["unit"] == view.units.name(UNITS[name["key"]]) for name in names):
            raise PreventUpdate
        return _fields(view)


def _typing(app: Dash) -> None:
    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input({"type": "recheck", "key": ALL, "unit": ALL}, "value"),
        State({"type": "recheck", "key": ALL, "unit": ALL}, "id"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def typed(values: Any, names: Any, data: Any) -> Any:
        view = View.parse(data)
        before = kept(view, NAME).get("typed", {})
        now = dict(before) if isinstance(before, dict) else {}
        for name, value in zip(names, values, strict=True):
            unit, key = UNITS[name["key"]], name["key"]
            # What stands in other units is about to be drawn again.
            if name["unit"] == view.units.name(unit):
                now[key], wrong = _number(key, value, now.get(key), view.units)
                set_props(name, {"error": wrong or None})
        now = {key: value for key, value in now.items() if value is not None}
        # What is said beside a field would be lost with a callback that sets nothing.
        if now == before:
            return no_update
        changed = {**kept(view, NAME), "typed": now}
        return keep(view, replace(view, extra={**view.extra, NAME: changed}))


def _number(key: str, value: Any, before: Any, units: Units) -> tuple[Any, str]:
    """What was typed, in the unit of the job, None for nothing; and what is wrong with it.

    Args:
        key: Which reading.
        value: As the input gives it.
        before: What is kept: it stays as it is where it is what stands there, or that is none.
        units: In which it is typed.
    """
    unit = UNITS[key]
    if value in ("", None):
        return None, ""
    held = float(f"{units.shown(before, unit):.6g}") if isinstance(before, int | float) else None
    wrong = wrong_number(value, *(float(units.shown(end, unit)) for end in ENDS[key]))
    if wrong:
        old = "it is left out" if held is None else f"{held:g} {units.name(unit)} stays in force"
        return before, f"{wrong}; {old}"
    return (before if value == held else float(units.typed(value, unit))), ""


PAGE = Page("/agrees", "Does it agree?", answer, body, columns, register)
