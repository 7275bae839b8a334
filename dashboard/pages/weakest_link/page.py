"""What gives first? Every part that current goes through, and every caution of one setup."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
import numpy as np
from dash import Dash, Input, Output, State, html

from curves.cautions import (
    CLASSES,
    Caution,
    Link,
    Warmth,
    Wiring,
    cautions,
    weakest_link,
    wire_size,
)
from curves.motion.heat import settled
from curves.present.table import Table
from curves.units import KMH
from dashboard.answers.setups import Comparison, Reading, known, read, remembered
from dashboard.base import ids
from dashboard.base.words import listed, number, unbroken
from dashboard.figures import bars
from dashboard.state.session import View
from dashboard.widgets import choice, options
from dashboard.widgets import result_columns as results
from dashboard.widgets.attributes import attributes
from dashboard.widgets.figure_card import figure_card
from dashboard.widgets.follow import follow
from dashboard.widgets.marks import soft
from dashboard.widgets.page import Page
from dashboard.widgets.progress import Task, fill, place
from dashboard.widgets.setups_table import Column

NAME = "gives"
KEY = "gives-load"
RISKS = "gives-risks"
NO_CLASS = "none"
CURRENTS = (
    ("cell_current_a", "One cell, continuous, A"),
    ("fuse_a", "Fuse, A"),
    ("connector_a", "Pack connector, A"),
)
WIRES = (("pack_wire_awg", "Pack leads, AWG"), ("phase_wire_awg", "Phase leads, AWG"))


def _wiring(view: View) -> Wiring:
    """What was entered that no job holds."""
    amperes = {name: options.entered(view, NAME, name, math.nan, 1e-9, 1e6) for name, _ in CURRENTS}
    gauges = {name: _gauge(view, name) for name, _ in WIRES}
    given: dict[str, Any] = {name: x for name, x in amperes.items() if not math.isnan(x)}
    return Wiring(**given, **gauges)


def _gauge_problem(text: str) -> str:
    """What is wrong with a wire size that was typed, empty for nothing."""
    try:
        if text:
            wire_size(text)
    except ValueError as problem:
        return str(problem)
    return ""


def _gauge(view: View, name: str) -> int | None:
    try:
        return wire_size(str(choice.kept(view, NAME).get(name) or ""))
    except ValueError:
        return None


def _links(compared: Comparison, view: View) -> tuple[Reading | None, tuple[Link, ...]]:
    reading = choice.chosen(compared, view, NAME)
    if reading is None:
        return None, ()
    return reading, weakest_link(reading.rig, reading.curve.facts, _wiring(view))


def answer(compared: Comparison, view: View) -> Any:
    """The part with the least to spare, and how much it is asked."""
    reading, links = _links(compared, view)
    if reading is None:
        return html.H1("Show a setup to ask which of its parts gives first.")
    if not links:
        return html.H1(f"“{reading.name}”: no part states a rating, so none can be named.")
    first, *others = links
    over = [link.part for link in links if link.load > 1]
    head = (
        f"“{reading.name}”: the weakest link is the {first.part}, asked "
        f"{number(first.demand, 1)} of {number(first.rating, 1)} A, {first.told}."
    )
    more = [_over(over)]
    if others:
        more.append(f"Next: {others[0].part}, {others[0].told}.")
    more.append(
        "Only parts with a rating are compared; enter below what the job does not hold. Heat of "
        "wires is an estimate."
    )
    return [
        html.H1(unbroken(head)),
        html.Ul([html.Li(unbroken(x)) for x in more], className="more"),
    ]


def _over(parts: Sequence[str]) -> str:
    if not parts:
        return "No part is asked for more than its rating."
    return f"Asked for more than the rating: {listed(list(parts))}."


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """Whether it fits, its weakest link, and its cautions."""
    wiring = _wiring(view)

    def weakest(r: Reading, _: Reading | None) -> Any:
        links = weakest_link(r.rig, r.curve.facts, wiring)
        if not links:
            return soft("no rating given")
        return [html.Span(links[0].part), soft(links[0].told)]

    said = "The part with the least to spare"
    return [
        results.fit_column(compared, view),
        Column("weakest", "Gives first", said, weakest, "words"),
        results.care_column(compared, view),
    ]


def body(compared: Comparison, view: View) -> Any:
    """The links, and the cautions."""
    card = figure_card(
        KEY,
        "The weakest link",
        "What the setup asks of each part, as a share of its rating.",
        _draw(compared, view),
        "Load of every part that current goes through, the weakest first.",
        html.Div(_tools(compared, view), className="asked"),
    )
    risks = html.Section(
        [
            html.Div(
                [
                    html.H2("Take care"),
                    html.P("Each with its number, its limit and its source.", className="lead"),
                ],
                className="card-head",
            ),
            html.Div(_risks(compared, view), id=RISKS),
        ],
        className="card",
        **attributes(aria_label="Take care"),
    )
    return [place(NAME, view), card, risks]


def _tools(compared: Comparison, view: View) -> list[Any]:
    classes = [(NO_CLASS, "none chosen"), *((k, c.title) for k, c in CLASSES.items())]
    kept = choice.kept(view, NAME)
    wiring = _wiring(view)
    return [
        html.Div(
            [
                choice.choice(compared, NAME, choice.chosen(compared, view, NAME)),
                options.pick(NAME, "class", "Class of vehicle", _class(view) or NO_CLASS, classes),
            ]
        ),
        html.Div(
            [
                options.enter(
                    NAME,
                    name,
                    label,
                    getattr(wiring, name) or math.nan,
                    least=1e-9,
                    most=1e6,
                    empty="none: not checked",
                )
                for name, label in CURRENTS
            ]
        ),
        html.Div(
            [
                dmc.TextInput(
                    id=options.name_of(NAME, name),
                    label=label,
                    value=str(kept.get(name) or ""),
                    placeholder="such as 10 or 2/0",
                    debounce=400,
                    size="xs",
                )
                for name, label in WIRES
            ]
        ),
    ]


def _class(view: View) -> str | None:
    return options.chosen(view, NAME, "class", (NO_CLASS, *CLASSES)).replace(NO_CLASS, "") or None


def _draw(compared: Comparison, view: View) -> dict[str, Any]:
    reading, links = _links(compared, view)
    loads = [(link.part, link.load) for link in links if math.isfinite(link.load)]
    return bars.build(
        0 if reading is None else reading.slot, loads, view.width, "all of its rating"
    )


def _numbers(compared: Comparison, view: View) -> Table:
    reading, links = _links(compared, view)
    rows = [
        [
            f"{link.part} (the weakest)" if link.weakest else link.part,
            number(link.rating, 1),
            number(link.demand, 1),
            link.basis,
            number(100 * link.load, unit="%"),
            link.source,
        ]
        for link in links
    ]
    name = "" if reading is None else f" of “{reading.name}”"
    head = ["Part", "Rating", "Asked", "In", "Load", "Source of the rating"]
    return Table(head, rows, f"The weakest link{name}")


def _warmth(reading: Reading) -> Warmth:
    """What settles at top speed."""

    def make(rig: Any) -> Warmth:
        if not reading.curve.starts:
            return Warmth()
        found = settled([rig], np.array([reading.curve.top * KMH]))
        return Warmth(float(found.winding_c[0]), float(found.case_c[0]))

    return remembered(NAME, [reading.rig], make)[0]


def _risks(compared: Comparison, view: View) -> Any:
    reading = choice.chosen(compared, view, NAME)
    if reading is None:
        return soft("Show a setup to read its cautions.")
    warmth = _warmth(reading) if _done(compared, view) else None
    found = cautions(
        reading.rig,
        reading.curve.facts,
        warmth=warmth,
        road_class=_class(view),
        units=view.units,
    )
    return html.Ul([_risk(c) for c in found], className="risks")


def _risk(caution: Caution) -> Any:
    source = [soft(f" Source: {caution.source}.")] if caution.source else []
    return html.Li(
        [
            html.Span(caution.severity, className=f"severity {caution.severity}"),
            html.B(f" {caution.title[0].upper()}{caution.title[1:]}. "),
            unbroken(caution.text),
            *source,
        ]
    )


def _done(compared: Comparison, view: View) -> bool:
    reading = choice.chosen(compared, view, NAME)
    return reading is None or known(NAME, [reading.rig]) is not None


def _work(compared: Comparison, view: View, _task: Task) -> None:
    reading = choice.chosen(compared, view, NAME)
    if reading is not None:
        _warmth(reading)


def register(app: Dash) -> None:
    """Links and cautions follow the job and what is entered."""
    choice.register(app, NAME)
    options.register(app, NAME, {name: _gauge_problem for name, _ in WIRES})
    fill(app, NAME, _done, _work)
    follow(app, KEY, _draw, _numbers)

    @app.callback(
        Output(RISKS, "children"),
        Input(ids.SETTLED, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def risks(_rested: Any, session: Any, view: Any) -> Any:
        return _risks(*read(session, view))


PAGE = Page("/weakest", "What gives first?", answer, body, columns, register)
