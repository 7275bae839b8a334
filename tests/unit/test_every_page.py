"""What every page owes: something to say for none, one and twelve setups; a table for each plot."""

import json

import pytest

from curves import load_job
from dashboard.answers.setups import compare
from dashboard.app import create_app
from dashboard.shell.registry import pages
from dashboard.shell.shell import answered
from dashboard.state.session import Session, View
from dashboard.widgets.setups_table import cells
from tests.unit.component_tree import ids_of, words

PAGES = pages()


def shown(count):
    session = Session.of(load_job())
    while len(session.slots) < count:
        session = session.duplicate(session.slots[-1])
    for slot in session.slots[count:]:
        session = session.toggle(slot)
    return compare(session)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.path)
@pytest.mark.parametrize("count", [0, 1, 12])
def test_a_page_has_something_to_say(page, count):
    compared = shown(count)
    assert len(compared.shown) == count
    assert len(words(page.answer(compared, View()))) > 10
    assert ids_of(page.body(compared, View())) or count == 0
    said = words(answered(page, compared, View()))
    assert ("Show all setups" in said) == (count == 0)
    # Results may hold nothing that only a callback could bring to life.
    made = cells(compared, page.columns(compared, View()))
    assert len(made) == 1 + 2 * len(compared.readings)
    json.dumps(made, allow_nan=False)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.path)
def test_a_page_bears_a_bike_that_cannot_start(page):
    job = load_job().replace("conditions.grade_percent", 60.0)
    compared = compare(Session.of(job))
    assert len(words(page.answer(compared, View()))) > 10
    page.body(compared, View())
    assert "nan" not in json.dumps(cells(compared, page.columns(compared, View())))


def test_every_plot_has_its_table():
    app = create_app()
    compared = shown(2)
    known = "".join(app.callback_map)
    for page in PAGES:
        plots = [found["key"] for found in ids_of(page.body(compared, View()))
                 if isinstance(found, dict) and found.get("type") == "figure"]  # fmt: skip
        without = [key for key in plots if f'"key":"{key}","type":"numbers-body"' not in known]
        assert without == [], page.path
