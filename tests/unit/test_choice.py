"""The setup looked at: a hidden one may be chosen and stays hidden, or the control says why not."""

import importlib

import pytest

from curves import load_job
from dashboard.answers.setups import compare
from dashboard.pages.uncertainty import page as how_sure
from dashboard.state.session import Session, View
from dashboard.widgets import choice
from dashboard.widgets.progress import Task
from tests.unit.component_tree import words

SESSION = Session.of(load_job())
SLOT = SESSION.slots[1]
HIDDEN = compare(SESSION.toggle(SLOT))
PAGES = ("cells", "weakening", "gearing", "two_inputs", "weakest_link")


def chosen(page):
    return View(extra={page: {"slot": SLOT}})


def test_a_hidden_setup_is_offered_and_marked():
    made = choice.choice(HIDDEN, "any", choice.chosen(HIDDEN, chosen("any"), "any"))
    assert made.value == str(SLOT)
    labels = [one["label"] for one in made.data]
    assert labels[:3] == ["as delivered", "13 cells (hidden)", "16 cells"]
    assert not any(one.get("disabled") for one in made.data)


def test_what_was_not_chosen_is_never_hidden():
    assert choice.chosen(HIDDEN, View(), "any").name == "as delivered"
    without = compare(SESSION.toggle(SESSION.slots[0]))
    assert choice.chosen(without, View(), "any").name == "13 cells"


def test_where_all_are_hidden_none_is_looked_at():
    session = SESSION
    for slot in SESSION.slots:
        session = session.toggle(slot)
    none = compare(session)
    assert choice.chosen(none, chosen("any"), "any") is None
    made = choice.choice(none, "any", None)
    assert all(one["disabled"] and "show it" in one["label"] for one in made.data)


@pytest.mark.parametrize("page", PAGES)
def test_a_page_speaks_of_a_hidden_setup(page):
    module = importlib.import_module(f"dashboard.pages.{page}.page")
    view = chosen(module.NAME)
    module._work(HIDDEN, view, Task())
    assert module._done(HIDDEN, view)
    said = words(module.answer(HIDDEN, view)).replace("\N{NO-BREAK SPACE}", " ")
    assert "“13 cells”" in said
    module.body(HIDDEN, view)
    assert not HIDDEN.readings[1].shown


def test_where_a_hidden_setup_cannot_be_chosen_the_control_says_why():
    view = chosen(how_sure.NAME)
    assert how_sure._looked_at(HIDDEN, view).name == "as delivered"
    made = choice.choice(HIDDEN, "sure", how_sure._looked_at(HIDDEN, view), hidden=False)
    assert made.data[1]["label"] == "13 cells (hidden: show it to choose it)"
    assert made.data[1]["disabled"]
