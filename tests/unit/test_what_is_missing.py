"""A hidden setup and what is never reached are told apart in words, on every page and its CSV."""

import sys

import pytest
from dash import Dash

from curves import load_job
from dashboard.answers.setups import compare
from dashboard.base.words import NONE
from dashboard.shell import carried
from dashboard.shell.registry import pages
from dashboard.state.session import Session, View
from dashboard.widgets.progress import WORKING, Task
from dashboard.widgets.setups_table import cells

SLOW = {"/runs": "not reached", "/heat": "", "/range": "never", "/sure": ""}
"""Pages that work nothing out for a hidden setup, and their word for what is never reached."""


def compared(grade=0.0):
    """The demonstration with its second setup hidden, and a goal of range that few meet."""
    job = load_job().replace("conditions.grade_percent", grade).replace("goals.range_km", 900.0)
    session = Session.of(job)
    return compare(session.toggle(session.slots[1]))


def table(page, found, monkeypatch):
    """A page's table of setups once everything is worked out."""
    works = []
    module = sys.modules[page.register.__module__]
    monkeypatch.setattr(module, "fill", lambda *wired: works.append(wired[-1]), raising=False)
    page.register(Dash("missing"))
    for work in works if page.path in SLOW else ():
        work(found, View(), Task())
    return carried.setups(found, page.columns(found, View()))


@pytest.mark.parametrize("grade", [0.0, 60.0])
@pytest.mark.parametrize("page", pages(), ids=lambda page: page.path)
def test_no_cell_is_a_bare_dash(page, grade, monkeypatch):
    found = compared(grade)
    hidden = found.readings[1].name
    rows = table(page, found, monkeypatch).rows
    for row in rows:
        assert (row[1] == "hidden") == (row[0] == hidden)
        assert NONE not in row
        assert WORKING not in row
    alone = [row for row in rows if row[1] == "hidden"]
    if page.path in SLOW:
        words = [text for row in rows if row[1] != "hidden" for text in row]
        assert grade or SLOW[page.path] in words
        assert "not reached" not in alone[0]


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.path)
def test_a_row_says_once_that_it_is_hidden(page):
    found = compared()
    made = cells(found, page.columns(found, View()))
    for r in found.readings:
        said = str(made[f"row {r.slot}"]) + str(made[f"tools {r.slot}"])
        assert said.count("'hidden'") == (0 if r.shown else 1)
