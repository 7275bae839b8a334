"""How sure? What the tolerances of the inputs leave open, and how often one setup beats another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from dash import Dash, Input, Output, State, html

from curves.parts.labels import label_of, possessive
from curves.present.table import Table
from curves.studies.bands import Bands
from curves.units import KMH
from dashboard.answers.setups import Comparison, Reading, read
from dashboard.answers.study_options import SPLITS
from dashboard.base import ids
from dashboard.base.words import NONE, listed, number, speed, speed_factor, unbroken
from dashboard.figures import bars, lines
from dashboard.pages.uncertainty.study import banded, shared, work
from dashboard.state.session import View
from dashboard.widgets import choice, options
from dashboard.widgets import result_columns as results
from dashboard.widgets.attributes import attributes
from dashboard.widgets.figure_card import figure_card, numbers_table
from dashboard.widgets.follow import follow
from dashboard.widgets.marks import soft
from dashboard.widgets.page import Page
from dashboard.widgets.progress import WORKING, Task, fill, place
from dashboard.widgets.setups_table import Column

NAME = "sure"
FORCE, WHERE, ODDS = "sure-force", "sure-where", "sure-odds"
COUNTS = ("256", "512", "1024", "4096")
COMPARED = ("top speed", *SPLITS)


def _count(view: View) -> int:
    return int(options.chosen(view, NAME, "count", COUNTS))


def _looked_at(compared: Comparison, view: View) -> Reading | None:
    """One that is shown: how often one setup beats another is told of samples drawn together."""
    return choice.chosen(compared, view, NAME, hidden=False)


def answer(compared: Comparison, view: View) -> Any:
    """The band of the setup looked at, where it comes from, and whom it beats how often."""
    reading = _looked_at(compared, view)
    if reading is None:
        return html.H1("Show a setup to ask how sure its numbers are.")
    found = banded(compared, _count(view))
    if found is None:
        return html.H1(f"Trying setups within their tolerances {WORKING}")
    if not found.inputs:
        return html.H1(
            "No input has a tolerance, so nothing can be said of how sure the numbers are: give "
            "some in the job file, or say which values are only typical."
        )
    k = found.names.index(reading.name)
    more = [*_beaten(found, k), *_source(reading, view), _how(found)]
    low, middle, high = (speed(float(x) / KMH, view.speed) for x in found.top_speed[k])
    head = (
        f"“{reading.name}”: top speed is {middle} {view.speed}, nine times in ten {low} to {high}."
    )
    if found.top_speed[k, 2] <= 0:
        head = f"“{reading.name}” cannot start, however its inputs lie within their tolerances."
        more = [_how(found)]
    return [
        html.H1(unbroken(head)),
        html.Ul([html.Li(unbroken(x)) for x in more], className="more"),
    ]


def _beaten(found: Bands, k: int) -> list[str]:
    """The pair that is the closest: the others are more certain."""
    others = [j for j in range(len(found.names)) if j != k]
    if not others:
        return []
    j = min(others, key=lambda j: abs(found.faster[k, j] - found.faster[j, k]))
    ahead, behind = 100 * found.faster[k, j], 100 * found.faster[j, k]
    name, other = found.names[k], found.names[j]
    return [
        f"Closest to it is “{other}”: “{name}” is faster, by however little, in {number(ahead)} % "
        f"of the samples, slower in {number(behind)} %."
    ]


def _source(reading: Reading, view: View) -> list[str]:
    where = shared(reading, _count(view))
    if where is None or not where.names:
        return []
    parts = [
        f"{possessive(name)} ({number(100 * float(share))} %)"
        for name, share in zip(where.names[:2], where.share[:2], strict=True)
    ]
    return [f"Most of its spread comes from {listed(parts)}: measure that first."]


def _how(found: Bands) -> str:
    return (
        f"{number(found.count)} samples of {len(found.inputs)} unsure inputs; setups that share a "
        "part share what is unsure of it, so pairs are compared like with like."
    )


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """Bands of top speed and splits."""
    found = banded(compared, _count(view))
    meaning = "Middle of the samples; nine in ten lie between the two numbers below"

    def column(key: str, head: str, values: Any, digits: int) -> Column:
        def cell(r: Reading, _: Reading | None) -> Any:
            if found is None or r.name not in found.names:
                return WORKING if r.shown else None
            low, middle, high = values[found.names.index(r.name)]
            if not np.isfinite(middle):
                return soft("not always")
            if high <= 0:
                return soft("cannot start")
            ends = f"{number(low, digits)} to {number(high, digits)}"
            return [html.Span(number(middle, digits), className="figure"), soft(ends)]

        return Column(key, head, meaning, cell)

    factor = speed_factor(view.speed) / KMH
    top = None if found is None else found.top_speed * factor
    times = None if found is None else np.concatenate((found.speed_time, found.distance_time), 2)
    return [
        column("top", f"Top speed, {view.speed}", top, 1),
        *(
            column(f"split-{k}", f"{name}, s", None if times is None else times[:, :, k], 1)
            for k, name in enumerate(SPLITS)
        ),
        results.limit_column(compared, view),
        results.care_column(compared, view),
    ]


def body(compared: Comparison, view: View) -> Any:
    """The bands, the odds, and where the spread comes from."""
    tools = html.Div(
        [
            choice.choice(compared, NAME, _looked_at(compared, view), hidden=False),
            options.pick(
                NAME, "count", "Samples", str(_count(view)), [(n, number(int(n))) for n in COUNTS]
            ),
        ],
        className="pins",
    )
    return [
        place(NAME, view),
        figure_card(
            FORCE,
            "Force at the rim",
            "Nine samples in ten lie within the band.",
            _force(compared, view),
            "Bands of rim force of every setup over road speed.",
            tools,
        ),
        _odds_card(compared, view),
        figure_card(
            WHERE,
            "Where the spread of top speed comes from",
            "The share that would vanish if that input were known exactly.",
            _where(compared, view),
            "First-order shares of the variance of top speed, an input a bar.",
        ),
    ]


def _force(compared: Comparison, view: View) -> dict[str, Any]:
    found = banded(compared, _count(view))
    factor = speed_factor(view.speed) / KMH
    across = f"road speed, {view.speed}"
    if found is None or not found.at_speed.size:
        return lines.build([lines.Panel("Rim force", "N", 300, [])], across, 1.0, view.width)
    x = found.at_speed * factor
    drawn = []
    for k, r in enumerate(compared.shown):
        middle = np.where(found.rim_force[k, 1] > 0, found.rim_force[k, 1], np.nan)
        drawn.append(lines.Line(r.slot, r.name, x, middle))
    panel = lines.Panel("Rim force", "N", 340, drawn)
    figure = lines.build([panel], across, float(x[-1]), view.width)
    for k, r in enumerate(compared.shown):
        lines.band(figure, r.slot, x, found.rim_force[k, 0], found.rim_force[k, 2])
    return figure


def _odds_card(compared: Comparison, view: View) -> Any:
    chosen = options.chosen(view, NAME, "odds", COMPARED)
    picked = options.pick(NAME, "odds", "Compared by", chosen, [(x, x) for x in COMPARED])
    return html.Section(
        [
            html.Div(
                [
                    html.H2("How often one beats the other"),
                    html.P(
                        "Share of the samples in which the row beats the column. Any difference "
                        "counts, for what matters is yours to say: the bands above tell how large "
                        "it is. What is missing to 100 % between two are ties, equal to all nine "
                        "digits that are worked out.",
                        className="lead",
                    ),
                    html.Div(picked, className="pins"),
                ],
                className="card-head",
            ),
            html.Div(_odds(compared, view), id=ODDS),
        ],
        className="card",
        **attributes(aria_label="How often one beats the other"),
    )


def _odds(compared: Comparison, view: View) -> Any:
    found = banded(compared, _count(view))
    if found is None:
        return soft(f"Working {WORKING}")
    by = COMPARED.index(options.chosen(view, NAME, "odds", COMPARED))
    share = found.faster if by == 0 else found.quicker[:, :, by - 1]
    head = ["Setup", *found.names]
    rows = [
        [
            name,
            *(NONE if j == k else number(100 * float(x), unit="%") for j, x in enumerate(share[k])),
        ]
        for k, name in enumerate(found.names)
    ]
    return numbers_table(head, rows, f"Row beats column, by any difference: {COMPARED[by]}")


def _where(compared: Comparison, view: View) -> dict[str, Any]:
    reading = _looked_at(compared, view)
    found = shared(reading, _count(view))
    if reading is None or found is None:
        return bars.build(0, [], view.width)
    parts = [(label_of(n), float(x)) for n, x in zip(found.names, found.share, strict=True)]
    return bars.build(reading.slot, parts[: bars.MOST], view.width)


def _force_numbers(compared: Comparison, view: View) -> Table:
    found = banded(compared, _count(view))
    if found is None:
        return Table([], [], "Rim force")
    head = [f"Speed, {view.speed}", *found.names]
    rows = [
        [
            speed(float(v) / KMH, view.speed),
            *(" to ".join(number(float(x)) for x in force[[0, 2], k]) for force in found.rim_force),
        ]
        for k, v in enumerate(found.at_speed)
        if k % 4 == 0
    ]
    return Table(head, rows, "Rim force, N: nine samples in ten")


def _where_numbers(compared: Comparison, view: View) -> Table:
    found = shared(_looked_at(compared, view), _count(view))
    if found is None:
        return Table([], [], "Shares")
    rows = [
        [label_of(n), number(100 * float(x), 1)]
        for n, x in zip(found.names, found.share, strict=True)
        if x >= 0.0005
    ]
    rows.append(["Only together", number(100 * found.together, 1)])
    return Table(["Input", "Share, %"], rows, "First-order Sobol’ indices of top speed")


def _done(compared: Comparison, view: View) -> bool:
    reading, count = _looked_at(compared, view), _count(view)
    return reading is None or None not in (banded(compared, count), shared(reading, count))


def _work(compared: Comparison, view: View, task: Task) -> None:
    work(compared, _looked_at(compared, view), _count(view), task)


def register(app: Dash) -> None:
    """Plots and odds follow the job and what is asked."""
    choice.register(app, NAME, hidden=False)
    options.register(app, NAME)
    fill(app, NAME, _done, _work)
    follow(app, FORCE, _force, _force_numbers)
    follow(app, WHERE, _where, _where_numbers)

    @app.callback(
        Output(ODDS, "children"),
        Input(ids.SETTLED, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def odds(_rested: Any, session: Any, view: Any) -> Any:
        return _odds(*read(session, view))


PAGE = Page("/sure", "How sure?", answer, body, columns, register)
