"""Every unit switched: no page, plot, table or field is left in another one."""

import re
import sys

import pytest
from dash import Dash

from curves import load_job
from curves.parts.job import build_job
from curves.units import SWAPS, Units
from dashboard.components.intake import form as intake_form
from dashboard.components.part_form import MODELS, part_form
from dashboard.components.setups_table import cells, setups_table
from dashboard.pages.registry import pages
from dashboard.results import compare
from dashboard.state import Session, View
from dashboard.waiting import Task

METRIC = re.compile(r"km/h|\bkm\b|\bkg\b|°C|N·m|[0-9]kmh")
"""Of other units: every one that something is swapped for."""
KEPT = re.compile(
    r"kg·m²"  # An inertia has no unit that people read it in instead.
    r"|as 20 mph or 25 km/h"  # What is timed is typed with its unit, whichever it is.
    r"|at 20 °C"  # What Kv and resistance are told at, by definition.
)
NAMES = {"id", "value", "name", "data-unit", "data-value", "bdata", "srcDoc"}
"""Keys of what nobody reads; and the report, whose file has units of its own."""
VIEW = View(units=Units.of(SWAPS))
SEARCH = {"vary": ["pack.series", "bike.rider_kg"], "steps bike.rider_kg": 3}
"""A small search."""


@pytest.fixture(scope="module")
def compared():
    """One setup, with a speed cap and a goal for each unit."""
    tree = load_job().tree()
    tree["setup"] = tree["setup"][5:6]
    return compare(Session.of(build_job(tree, name="job")))


def left(tree):
    """What is still metric in a tree of components, figures or cells."""
    if isinstance(tree, str):
        return [tree] if METRIC.search(KEPT.sub("", tree)) else []
    if isinstance(tree, list | tuple):
        return [x for item in tree for x in left(item)]
    if isinstance(tree, dict):
        return [x for name, item in tree.items() if name not in NAMES for x in left(item)]
    props = tree.to_plotly_json()["props"] if hasattr(tree, "to_plotly_json") else {}
    return left(props)


def test_the_search_for_metric_words_finds_them():
    assert left({"a": ["12 km/h", "inertia, kg·m²", {"id": "km"}]}) == ["12 km/h"]
    assert left("20\N{NO-BREAK SPACE}°C")
    assert left("rider, kg")


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.path)
def test_nothing_on_a_page_is_left_in_the_units_of_the_file(compared, page, monkeypatch):
    module, works, shown = sys.modules[page.register.__module__], [], []
    monkeypatch.setattr(module, "fill", lambda *wired: works.append(wired[-1]), raising=False)
    monkeypatch.setattr(module, "follow", lambda *wired: shown.extend(wired[2:]), raising=False)
    if page.path == "/search":
        works.append(module.work)
    page.register(Dash("units"))
    view = View(units=VIEW.units, extra={"search": SEARCH})
    for work in () if page.path == "/report" else works:
        work(compared, view, Task())
    assert left(page.answer(compared, view)) == []
    assert left(page.body(compared, view)) == []
    columns = page.columns(compared, view)
    assert left(cells(compared, columns)) == []
    assert left(setups_table(compared.session, view.units)) == []
    for made in shown:
        assert left(made(compared, view)) == []


@pytest.mark.parametrize("part", MODELS)
def test_nothing_in_a_form_is_left_in_the_units_of_the_file(compared, part):
    session = compared.session
    alone = {"setup": str(session.slots[0]), "conditions": "", "goals": "", "job": ""}
    name = alone[part] if part in alone else next(iter(getattr(session.job, part)))
    assert left(part_form(session, part, name, VIEW.units)) == []


def test_nothing_in_the_short_form_is_left_in_the_units_of_the_file():
    assert left(intake_form(VIEW.units)) == []
