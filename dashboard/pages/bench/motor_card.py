"""What bench readings give: the motor's values, what to look at again, and what becomes of it."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import html

from curves.measured.estimate import Estimate
from curves.measured.profile import UNITS
from curves.parts.labels import label_of
from curves.words.digits import banded, digits
from dashboard.answers.setups import Comparison
from dashboard.base.words import NONE, exact, unbroken
from dashboard.pages.bench.study import found_in
from dashboard.widgets.buttons import main_button, plain_button
from dashboard.widgets.figure_card import numbers_table
from dashboard.widgets.readings import Tree, problem_said

NEW = "a new motor"


def values(tree: Tree) -> list[Any]:
    """Values with their uncertainties, and what to look at again."""
    title = html.Div(
        [
            html.H2("The motor"),
            html.P("± is one standard uncertainty, meters and scatter together.", className="lead"),
        ],
        className="card-head",
    )
    found = found_in(tree)
    if not found.derived.values:
        return [title, html.P("No reading gives a value yet.", className="soft")]
    rows = [
        [
            label_of(field),
            exact(one.value) if one.uncertainty == 0 else digits(one.value, 4),
            digits(one.uncertainty, 2) if one.uncertainty > 0 else NONE,
            UNITS.get(field, ""),
            str(one.readings or "stated"),
            one.how,
        ]
        for field, one in found.derived.values.items()
    ]
    head = ("Found", "Value", "±", "Unit", "Readings", "How")
    table = numbers_table(head, rows, "What was found")
    made: list[Any] = [title, html.Div(table, className="found")]
    if found.profile is not None:
        stated = [
            [f"rpm per {word}", digits(kv)] for word, kv in found.profile.kv_stated_as.items()
        ]
        made.append(
            html.Details(
                [
                    html.Summary(html.Span("The same Kv as others state it")),
                    numbers_table(("Stated as", "Kv"), stated, "Kv per kind of volt"),
                ],
                className="opening",
            )
        )
    warnings = found.derived.warnings if found.profile is None else found.profile.warnings
    looks = [*(f"Still missing: {problem_said(p)}" for p in found.missing), *warnings]
    if looks:
        made.append(html.Ul([html.Li(unbroken(x)) for x in looks], className="looks"))
    return made


def use(compared: Comparison, tree: Tree) -> list[Any]:
    """Into a motor of the job, or into a file."""
    names, nothing = [*compared.job.motor, NEW], found_in(tree).profile is None
    return [
        html.Div(html.H2("Put it to use"), className="card-head"),
        html.Div(
            [
                dmc.Select(
                    label="Lay what was measured over",
                    data=names,
                    value=names[0],
                    id="bench-motor",
                    allowDeselect=False,
                    size="xs",
                ),
                main_button("Put it into the job", id="bench-put", disabled=nothing),
                plain_button("Save it as a profile", id="bench-profile", disabled=nothing),
            ],
            className="buttons",
        ),
        html.P("", id="bench-done", role="status", className="soft"),
    ]


def left_out(tree: Tree) -> Any:
    """Which readings are left out, and why."""
    wrong = found_in(tree).wrong
    if not wrong:
        return None
    return html.Div(
        [
            html.P("These readings are left out until they are right; nothing typed is lost."),
            html.Ul([html.Li(problem_said(problem)) for problem in wrong], className="looks"),
        ],
        role="status",
    )


def measured(one: Estimate, field: str) -> str:
    """A value with its uncertainty and unit, in the digits that mean something."""
    value = f"{one.value:g}" if one.uncertainty == 0 else banded(one.value, one.uncertainty)
    return f"{value} {UNITS.get(field, '')}".rstrip()
