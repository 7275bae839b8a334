"""Every unit switched: no page, plot, table or field is left in another one."""

import re
import sys

import pytest
from dash import Dash

from curves import load_job
from curves.parts.job import build_job
from curves.report import PackStudy, WeakeningStudy, Wish, read_report, report
from curves.units import SWAPS, Units
from dashboard.answers.setups import compare
from dashboard.pages.report import study as reported
from dashboard.shell.intake_form import form as intake_form
from dashboard.shell.part_form import MODELS, part_form
from dashboard.shell.registry import pages
from dashboard.state.session import Session, View
from dashboard.widgets.progress import Task
from dashboard.widgets.setups_table import cells, setups_table
from tests.unit.reading_html import Page

METRIC = re.compile(r"km/h|\bkm\b|\bkg\b|°C|N·m|[0-9]kmh")
"""Of other units: every one that something is swapped for."""
KEPT = re.compile(
    r"kg·m²"  # An inertia has no unit that people read it in instead.
    r"|as 20 mph or 25 km/h"  # What is timed is typed with its unit, whichever it is.
    r"|at 20 °C"  # What Kv and resistance are told at, by definition.
)
NAMES = {"id", "value", "name", "data-unit", "data-value", "data-column", "bdata", "srcDoc"}
"""Keys of what nobody reads; and the report, which is asked below."""
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


@pytest.fixture(scope="module")
def told():
    """A job in which every field with a unit says something, and a wish for all of a report."""
    tree = load_job().tree()
    names = ("as delivered", "13 cells, weakened")
    tree["setup"] = [x | {"winding_c": 35.0} for x in tree["setup"] if x["name"] in names]
    tree["conditions"] = {"headwind_kmh": 5.0, "air_c": 12.0}
    tree["goals"] |= {"range_km": 400.0}
    for part in tree["controller"].values():
        part["winding_foldback_c"] = [90.0, 110.0]
    for part in tree["tune"].values():
        part["speed_cap_kmh"] = 60.0
    studies = {
        "packs": (PackStudy(names[0], (9, 10, 13)),),
        "weakenings": (WeakeningStudy(names[1], (0.0, 20.0, 40.0)),),
    }
    return build_job(tree, name="job"), studies


def readable(text):
    """Every text of a report that someone reads or has read to him, sources of the job left out."""
    page = Page(text)
    attributes = [x[k] for _, x in page.elements for k in ("aria-label", "title") if x.get(k)]
    hidden = {"style", "script"}
    return [*attributes, *(said for path, said in page.texts if not hidden & set(path))]


def test_nothing_in_the_report_is_left_in_the_units_of_the_file(told):
    job, studies = told
    text = report(job, Wish(units=VIEW.units, **studies))
    assert left(readable(text)) == []
    assert read_report(text) == job
    said = " ".join(readable(text))
    for unit in ("mph", "mi", "Wh/mi", "°F", "lb", "lbf·ft"):
        assert counted(unit, said), unit


def counted(unit, text):
    """Whether a unit stands in a text by itself, not as a part of another."""
    return re.search(rf"(?<![\w/·]){re.escape(unit)}(?![\w/·])", text) is not None


@pytest.mark.parametrize("name", SWAPS)
def test_each_unit_of_the_report_is_chosen_by_itself(told, name):
    job, studies = told
    wish = Wish(units=Units.of([name]), endurance=False, **studies)
    said = KEPT.sub("", " ".join(readable(report(job, wish))))
    for other, (usual, _) in SWAPS.items():
        # Runs are told to 20 and 30 mph whatever is chosen.
        assert counted(other, said) == (other == name) or other == "mph"
        assert counted(usual, said) == (other != name)


def test_the_page_wishes_for_a_report_in_the_units_that_are_chosen(compared):
    assert reported.wish(compared, VIEW).units == VIEW.units
