"""Any two inputs against any result: a map of one setup, with what holds top speed as regions."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from dash import Dash, html

from curves.present.table import Table
from curves.studies.common import Progress, quietly
from curves.studies.maps import ResultMap, result_map
from curves.studies.results import OFFERED, result
from dashboard.answers.setups import Comparison, Reading, known, remembered
from dashboard.base.words import NONE, exact, listed, number, unbroken
from dashboard.figures.spec import layout
from dashboard.pages.two_inputs import figure as regions
from dashboard.state.session import View
from dashboard.widgets import choice, options
from dashboard.widgets import inputs as known_inputs
from dashboard.widgets import result_columns as results
from dashboard.widgets.figure_card import figure_card
from dashboard.widgets.follow import follow
from dashboard.widgets.page import Page
from dashboard.widgets.progress import WORKING, Task, fill, place

NAME = "two"
KEY = "two-map"
TOOLS = "two-tools"
ACROSS, UP = 33, 25
USUAL = ("pack.series", "tune.pack_current_a")


class Asked(NamedTuple):
    """What the map is of: two inputs with their ranges, and a result's name."""

    x: known_inputs.Input
    y: known_inputs.Input
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    result: str

    @property
    def problem(self) -> str:
        """Why it cannot be drawn, empty if it can."""
        if self.x.name == self.y.name:
            return "Choose two different inputs."
        for one, ends in ((self.x, self.x_range), (self.y, self.y_range)):
            if said := one.problem(*ends):
                return f"{one.label}: the range {said}."
        return ""


def _asked(reading: Reading, view: View) -> Asked:
    known_ = known_inputs.inputs_of(reading.rig)
    usual = [name for name in USUAL if name in known_]
    usual += [name for name in known_ if name not in usual]
    x = options.chosen(view, NAME, "x", [usual[0], *known_])
    y = options.chosen(view, NAME, "y", [usual[1], *known_])
    asked = options.chosen(view, NAME, "result", OFFERED)
    across, up = (options.entered_range(view, NAME, known_[name]) for name in (x, y))
    return Asked(known_[x], known_[y], across, up, asked)


def _kind(asked: Asked) -> str:
    return f"{NAME} {asked.x.name} {asked.y.name} {asked.x_range} {asked.y_range} {asked.result}"


def _map(reading: Reading, asked: Asked, progress: Progress = quietly) -> ResultMap:
    return remembered(
        _kind(asked),
        [reading.rig],
        lambda rig: result_map(
            rig,
            (asked.x.name, asked.x.values(*asked.x_range, ACROSS)),
            (asked.y.name, asked.y.values(*asked.y_range, UP)),
            (asked.result,),
            progress=progress,
        ),
    )[0]


def _drawable(compared: Comparison, view: View) -> tuple[Reading, Asked] | None:
    reading = choice.chosen(compared, view, NAME)
    if reading is None:
        return None
    asked = _asked(reading, view)
    return None if asked.problem else (reading, asked)


def _found(compared: Comparison, view: View) -> tuple[Reading, Asked, ResultMap] | None:
    """What is worked out, or None."""
    drawable = _drawable(compared, view)
    if drawable is None or known(_kind(drawable[1]), [drawable[0].rig]) is None:
        return None
    return (*drawable, _map(*drawable))


def _title(name: str, view: View) -> str:
    return result(name).titled(view.units)


def _unit(name: str, view: View) -> str:
    return view.units.name(result(name).unit)


def _values(s: ResultMap, asked: Asked, view: View) -> Any:
    """The result as it is read."""
    return view.units.shown(s.results[asked.result], result(asked.result).unit)


def _axes(s: ResultMap, asked: Asked, view: View) -> tuple[Any, Any]:
    """Values of both inputs as they are read."""
    return view.units.shown(s.x, asked.x.unit), view.units.shown(s.y, asked.y.unit)


def answer(compared: Comparison, view: View) -> Any:
    """From what to what the result goes, and where it is best."""
    reading = choice.chosen(compared, view, NAME)
    if reading is None:
        return html.H1("Show a setup to map it.")
    asked = _asked(reading, view)
    if asked.problem:
        return html.H1(asked.problem)
    found = _found(compared, view)
    if found is None:
        return html.H1(f"Mapping “{reading.name}” {WORKING}")
    return _said(*found, view)


def _said(reading: Reading, asked: Asked, s: ResultMap, view: View) -> Any:
    what, values = result(asked.result), _values(s, asked, view)
    unit, title = _unit(asked.result, view), _title(asked.result, view)
    if np.isnan(values).all():
        return html.H1(f"“{reading.name}” has no {title} anywhere in these ranges.")
    digits = 1 if np.nanmax(np.abs(values)) < 200 else 0
    xs, ys = _axes(s, asked, view)
    best = np.unravel_index(int(np.nanargmax(values * what.best)), values.shape)
    own = view.units.shown(s.own_results[asked.result], what.unit)
    now = f"; now it is {number(own, digits)}" if math.isfinite(own) else ""
    by = reading.curve.top_limits
    held = f", top speed held by {listed(by)}" if by else ""
    place_ = " and ".join(
        f"{number(at, _digits(at))} {view.units.name(one.unit)}".strip() + f" ({one.label.lower()})"
        for one, at in ((asked.x, float(xs[best[1]])), (asked.y, float(ys[best[0]])))
    )
    more = [
        f"Best at {place_}.",
        "A line joins places of the same value. A change of pattern is where something else "
        "begins to hold top speed.",
    ]
    if small := regions.unnamed(_regions(s)):
        more.append(f"Too small to be named in the map: {'; '.join(small)}.")
    low, high = (number(float(f(values)), digits) for f in (np.nanmin, np.nanmax))
    head = f"“{reading.name}”: {title} goes from {low} to {high} {unit}{now}{held}."
    return [
        html.H1(unbroken(head)),
        html.Ul([html.Li(unbroken(x)) for x in more], className="more"),
    ]


def _digits(value: float) -> int:
    return 0 if value == round(value) else max(0, 2 - math.floor(math.log10(abs(value))))


def body(compared: Comparison, view: View) -> Any:
    """What is mapped, and the map."""
    card = figure_card(
        KEY,
        "The map",
        "The mark is the setup as it is; a pack’s mass and ratings follow its cells.",
        _draw(compared, view),
        "Contours of a result over two inputs, with what holds top speed as regions.",
        html.Div(_tools(compared, view), id=TOOLS, className="asked"),
    )
    return [place(NAME, view), card]


def _tools(compared: Comparison, view: View) -> list[Any]:
    """What is asked, a group an axis."""
    reading = choice.chosen(compared, view, NAME)
    if reading is None:
        return [html.Div([choice.choice(compared, NAME, reading)])]
    asked = _asked(reading, view)
    titles = [
        (one.name, one.titled(view.units)) for one in known_inputs.inputs_of(reading.rig).values()
    ]
    offered = [(name, f"{_title(name, view)}, {_unit(name, view)}") for name in OFFERED]
    groups = [
        [
            choice.choice(compared, NAME, reading),
            options.pick(NAME, "result", "Result", asked.result, offered),
        ]
    ]
    for key, label, one, ends in (
        ("x", "Across", asked.x, asked.x_range),
        ("y", "Upwards", asked.y, asked.y_range),
    ):
        chosen = options.pick(NAME, key, label, one.name, titles)
        groups.append([chosen, *options.enter_range(NAME, one, ends, view.units)])
    return [html.Div(group) for group in groups]


def _draw(compared: Comparison, view: View) -> dict[str, Any]:
    found = _found(compared, view)
    if found is None:
        empty = layout(regions.HEIGHT)
        return {"data": [], "layout": {**empty, "xaxis": {"visible": False},
                                       "yaxis": {"visible": False}}}  # fmt: skip
    (reading, asked, s), units = found, view.units
    title = f"{_title(asked.result, view)}, {_unit(asked.result, view)}"
    own = (units.shown(x, one.unit) for x, one in zip(s.own, (asked.x, asked.y), strict=True))
    return regions.build(
        *_axes(s, asked, view),
        _values(s, asked, view),
        _regions(s),
        (asked.x.titled(units), asked.y.titled(units), title),
        regions.Point(reading.slot, reading.name, *own),
        view.width,
    )


def _regions(s: ResultMap) -> list[regions.Region]:
    names = {k: listed(words) for k, words in enumerate(s.limits)} | {-1: "cannot start"}
    there = [k for k in names if np.any(s.region == k)]
    return [regions.Region(names[k] or "the road", s.region == k) for k in there]


def _numbers(compared: Comparison, view: View) -> Table:
    found = _found(compared, view)
    if found is None:
        return Table([], [], "The map")
    _, asked, s = found
    values, units = _values(s, asked, view), view.units
    xs, ys = _axes(s, asked, view)
    step = max(1, s.x.size // 8)
    head = [asked.y.titled(units), *(f"{x:.4g}" for x in xs[::step])]
    names = {k: listed(words) for k, words in enumerate(s.limits)} | {-1: NONE}
    rows = []
    for k in range(0, s.y.size, max(1, s.y.size // 8)):
        cells = zip(values[k, ::step], s.region[k, ::step], strict=True)
        told = [f"{number(float(v), 1)} ({names[int(r)]})" for v, r in cells]
        rows.append([exact(ys[k], 4), *told])
    title = f"{_title(asked.result, view)}, {_unit(asked.result, view)}"
    across = f"across: {asked.x.titled(units)}"
    return Table(head, rows, f"{title}; {across}; in brackets what holds top speed")


def _done(compared: Comparison, view: View) -> bool:
    return _drawable(compared, view) is None or _found(compared, view) is not None


def _work(compared: Comparison, view: View, task: Task) -> None:
    drawable = _drawable(compared, view)
    if drawable is not None:
        _map(*drawable, task.told)


def register(app: Dash) -> None:
    """The map follows the job and what is asked."""
    choice.register(app, NAME)
    options.register(app, NAME)
    fill(app, NAME, _done, _work)
    follow(app, KEY, _draw, _numbers)
    options.redraw(app, TOOLS, _tools)


PAGE = Page("/any-two", "Any two inputs", answer, body, results.study_columns, register)
