"""Which setup? A search through ranges of inputs for setups that meet goals, and their front."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from curves import JobError
from curves.present.table import Table
from curves.setups.stack import stack
from curves.studies.results import OFFERED, result, results_of
from curves.studies.search import Found
from dashboard.answers.setups import Comparison, read, remembered
from dashboard.answers.study_options import CAPS, HOLDS
from dashboard.base import ids
from dashboard.base.words import exact, number, unbroken
from dashboard.figures.spec import layout
from dashboard.pages.search import figure as front
from dashboard.pages.search.study import (
    MOST_GOALS,
    MOST_INPUTS,
    MOST_TRADES,
    NAME,
    Asked,
    added,
    asked_of,
    found_for,
    in_order,
    told,
    work,
)
from dashboard.state.session import View
from dashboard.widgets import choice, options
from dashboard.widgets import result_columns as results
from dashboard.widgets.attributes import attributes
from dashboard.widgets.figure_card import figure_card
from dashboard.widgets.follow import follow
from dashboard.widgets.inputs import inputs_of
from dashboard.widgets.page import Page
from dashboard.widgets.progress import place, start

KEY = "search-front"
TOOLS, GO, OUT = "search-tools", "search-go", "search-out"
SHOWN = 20
"""Setups listed."""


def _value(name: str, value: float, view: View) -> str:
    shown = view.units.shown(value, result(name).unit)
    return number(shown, 1 if abs(shown) < 200 else 0)


def _title(name: str, view: View) -> str:
    return result(name).titled(view.units)


def _unit(name: str, view: View) -> str:
    return view.units.name(result(name).unit)


def answer(compared: Comparison, view: View) -> Any:
    """How many meet the goals, and between what the front trades."""
    asked = asked_of(compared, view)
    if asked is None:
        return html.H1("Show a setup to search from.")
    if asked.problem:
        return html.H1(asked.problem)
    found = found_for(asked)
    if found is None:
        return html.H1(
            f"Press Search to look through {number(asked.size)} combinations of "
            f"“{asked.reading.name}” for those that meet your goals."
        )
    head, *more = _said(found, view)
    return [
        html.H1(unbroken(head)),
        html.Ul([html.Li(unbroken(x)) for x in more], className="more"),
    ]


def _said(found: Found, view: View) -> list[str]:
    rows, meets = in_order(found), int(found.meets.sum())
    tried = f"{number(len(found.outcome))} of {number(found.size)} combinations tried"
    ended = f"{tried}, stopped before its end." if found.stopped else f"{tried}."
    if not rows:
        return ["Nothing was tried before the stop.", ended]
    if not meets:
        short = number(100 * float(found.missing[rows[0]]), 1)
        return [f"None meets every goal: the closest misses one by {short} %.", ended]
    first = found.objectives[0]
    head = (
        f"{number(meets)} of {number(len(found.outcome))} setups meet every goal, and "
        f"{number(len(rows))} of them no other beats: {_traded(found, first, view)}."
    )
    rest = ", ".join(_traded(found, name, view) for name in found.objectives[1:])
    more = [f"For that: {rest}."] if rest else []
    return [head, *more, ended, "Estimates: check what a setup asks of its parts before buying."]


def _traded(found: Found, name: str, view: View) -> str:
    rows = in_order(found)
    ends = [_value(name, dict(told(found, k))[name], view) for k in (rows[0], rows[-1])]
    return f"{_title(name, view)} {' to '.join(dict.fromkeys(ends))} {_unit(name, view)}".rstrip()


def body(compared: Comparison, view: View) -> Any:
    """What is searched, the front, and the setups on it."""
    card = figure_card(
        KEY,
        "The search",
        "Ranges and goals in; setups that meet them out.",
        _draw(compared, view),
        "Two results of every setup tried, those on the front marked.",
        html.Div(_tools(compared, view), id=TOOLS, className="asked"),
        dmc.Button("Search", id=GO, size="compact-md", variant="default", className="go"),
    )
    return [
        card,
        place(NAME, view),
        html.Div(_listed(compared, view), id=OUT),
    ]


def _tools(compared: Comparison, view: View) -> list[Any]:
    asked = asked_of(compared, view)
    if asked is None:
        return [html.Div([choice.choice(compared, NAME, choice.chosen(compared, view, NAME))])]
    known = inputs_of(asked.reading.rig)
    titles = [
        (k, x.titled(view.units)) for k, x in known.items() if not k.startswith("conditions.")
    ]
    offered = [(name, f"{_title(name, view)}, {_unit(name, view)}") for name in OFFERED]
    names = [one.name for one in asked.inputs]
    goals = [goal.result for goal in asked.goals]
    groups: list[list[Any]] = [
        [choice.choice(compared, NAME, choice.chosen(compared, view, NAME))],
        [options.several(NAME, "vary", "What varies", names, titles, MOST_INPUTS)],
        *(_range(asked, k, view) for k in range(len(names))),
        [options.several(NAME, "goals", "Goals", goals, offered, MOST_GOALS)],
        *([_goal(asked, k, view)] for k in range(len(goals))),
        [options.several(NAME, "trades", "Best in", asked.trades, offered, MOST_TRADES)],
    ]
    if "pack.series" in names:
        groups.append(
            [
                options.pick(NAME, "hold", "Kept with other cells", asked.hold, [*HOLDS.items()]),
                options.pick(NAME, "caps", "Cap and pack current", asked.caps, [*CAPS.items()]),
            ]
        )
    groups.append(
        [
            options.enter(
                NAME,
                "budget",
                "Most setups tried",
                asked.budget,
                least=1,
                most=1_000_000,
                step=1000,
                allowDecimal=False,
            ),
            options.enter(NAME, "seed", "Seed", asked.seed, least=0, allowDecimal=False),
        ]
    )
    return [html.Div(group) for group in groups]


def _range(asked: Asked, k: int, view: View) -> list[Any]:
    one, (low, high, steps) = asked.inputs[k], asked.ranges[k]
    fields = options.enter_range(NAME, one, (low, high), view.units)
    fields[0].label = f"{one.label}, from"
    if one.whole:
        return fields
    return [*fields, options.enter(NAME, f"steps {one.name}", "Values", steps, least=2, most=200,
                                  allowDecimal=False)]  # fmt: skip


def _goal(asked: Asked, k: int, view: View) -> Any:
    goal = asked.goals[k]
    title, unit = _title(goal.result, view), result(goal.result).unit
    label = f"{title[0].upper()}{title[1:]}, {'at least' if goal.at_least else 'at most'}"
    return options.enter(NAME, f"goal {goal.result}", label, goal.bound, unit, view.units)


def _draw(compared: Comparison, view: View) -> dict[str, Any]:
    asked = asked_of(compared, view)
    found = None if asked is None or asked.problem else found_for(asked)
    if asked is None or found is None or not len(found.outcome):
        empty = layout(40, top=0, bottom=0)
        hidden = {"visible": False}
        return {"data": [], "layout": {**empty, "xaxis": hidden, "yaxis": hidden}}
    one, other = (*found.objectives, *found.results, found.objectives[0])[:2]
    reading = asked.reading

    def own(rig: Any) -> list[float]:
        values: list[float] = results_of(stack([rig]), (one, other))[0].tolist()
        return values

    at = remembered(f"own {one} {other}", [reading.rig], own)[0]
    up, across = (
        view.units.shown(found.outcome[:, found.results.index(name)], result(name).unit)
        for name in (one, other)
    )
    y, x = (
        view.units.shown(value, result(n).unit) for n, value in zip((one, other), at, strict=True)
    )
    titles = tuple(f"{_title(n, view)}, {_unit(n, view)}" for n in (other, one))
    start_ = front.Own(reading.slot, reading.name, x, y)
    shown = (titles[0], titles[1])
    return front.build(across, up, found.meets, found.front, shown, start_, view.width)


def _listed(compared: Comparison, view: View) -> Any:
    """The setups of the front, each with a button that adds it to the job."""
    asked = asked_of(compared, view)
    found = None if asked is None or asked.problem else found_for(asked)
    rows = [] if found is None else in_order(found)
    if asked is None or found is None or not rows:
        return None
    closest = not found.meets.any()
    title = "The closest" if closest else "On the front"
    head = [
        "Add it",
        *(x.titled(view.units) for x in asked.inputs),
        *(f"{_title(n, view)}, {_unit(n, view)}".rstrip(", ") for n in found.results),
    ]
    lines = [
        html.Tr(
            [
                html.Td(_button(k)),
                *(html.Td(x) for x in _varied(asked, found, k, view)),
                *(html.Td(_value(name, value, view)) for name, value in told(found, k)),
            ]
        )
        for k in rows[:SHOWN]
    ]
    beyond = len(rows) - SHOWN
    table = html.Table(
        [html.Thead(html.Tr([html.Th(x, scope="col") for x in head])), html.Tbody(lines)],
        className="plain",
    )
    return html.Section(
        [
            html.Div(
                [
                    html.H2(title),
                    html.P(
                        "One click adds a setup to the job, with parts of its own. Of equals one "
                        f"is listed{f', and {number(beyond)} more are not' if beyond > 0 else ''}.",
                        className="lead",
                    ),
                ],
                className="card-head",
            ),
            html.Div(table, className="scroll", tabIndex=0, role="region",
                     **attributes(aria_label=f"{title}, table")),
        ],
        className="card",
        **attributes(aria_label=title),
    )  # fmt: skip


def _varied(asked: Asked, found: Found, row: int, view: View) -> list[str]:
    """What varies in a setup found, as it is read."""
    pairs = zip(asked.inputs, found.values[row].tolist(), strict=True)
    return [exact(view.units.shown(x, one.unit), 4) for one, x in pairs]


def _button(row: int) -> Any:
    return html.Button(
        "Add to the job", type="button", id={"type": "found", "row": row}, className="worded tool"
    )


def _numbers(compared: Comparison, view: View) -> Table:
    asked = asked_of(compared, view)
    found = None if asked is None or asked.problem else found_for(asked)
    if asked is None or found is None:
        return Table([], [], "Nothing searched yet")
    titles = (f"{_title(n, view)}, {_unit(n, view)}" for n in found.results)
    head = [*(x.titled(view.units) for x in asked.inputs), *titles]
    rows = [
        [*_varied(asked, found, k, view), *(_value(n, v, view) for n, v in told(found, k))]
        for k in in_order(found)
    ]
    return Table(head, rows, "On the front" if found.meets.any() else "The closest")


def register(app: Dash) -> None:
    """The search runs when asked; plot and list follow."""
    choice.register(app, NAME)
    options.register(app, NAME)
    options.redraw(app, TOOLS, _tools)
    start(app, NAME, GO, work)
    follow(app, KEY, _draw, _numbers)

    @app.callback(
        Output(OUT, "children"),
        Input(ids.SETTLED, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def listed(_rested: Any, session: Any, view: Any) -> Any:
        return _listed(*read(session, view))

    @app.callback(
        Output(ids.SESSION, "data", allow_duplicate=True),
        Output(ids.MESSAGE, "children", allow_duplicate=True),
        Input({"type": "found", "row": ALL}, "n_clicks"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def add(clicks: Any, session: Any, view: Any) -> tuple[Any, Any]:
        compared, looked = read(session, view)
        asked = asked_of(compared, looked)
        found = None if asked is None else found_for(asked)
        if not any(clicks) or asked is None or found is None or not ctx.triggered_id:
            raise PreventUpdate
        try:
            return added(compared.session, asked, found, ctx.triggered_id["row"]).data(), ""
        except JobError as error:
            return no_update, f"That setup was not added.\n{error}"


PAGE = Page("/search", "Which setup?", answer, body, results.study_columns, register)
