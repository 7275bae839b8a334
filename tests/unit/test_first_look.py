"""What is sent with the page itself: its answer and its table, and never anything but text."""

import pytest

from curves import load_job
from curves.parts.job import build_job
from dashboard.answers.setups import compare
from dashboard.app import create_app
from dashboard.shell.first_look import first_look
from dashboard.shell.registry import page_at, pages
from dashboard.state.session import Session, View
from tests.asking import OWN
from tests.unit.reading_html import Page

EVIL = "</table><script>alert(1)</script>\"'<img src=x onerror=alert(1)>"


def look(session, path="/", view=View()):  # noqa: B008
    return Page(first_look(session, view, page_at(path)))


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.path)
def test_it_says_of_every_setup_what_the_page_says(page):
    session = Session.of(load_job())
    read = look(session, page.path)
    assert read.faults == []
    names = [a["value"] for a in read.all("input") if a["aria-label"].startswith("Name of")]
    assert names == [setup.name for setup in session.job.setup]
    text = read.text()
    assert all(column.head in text for column in page.columns(compare(session), View()))
    assert "rimforce" in text
    assert page.title in text


def test_its_answer_is_the_one_of_the_page():
    text = look(Session.of(load_job())).text().replace("\N{NO-BREAK SPACE}", " ")
    assert "13 cells are enough" in text
    assert "back-EMF passes the controller’s rated volts" in text


def test_it_is_out_of_reach_of_hand_and_reader():
    (outer,) = [a for a in look(Session.of(load_job())).all("div") if a.get("id")]
    assert outer["id"] == "first-look"
    assert outer["inert"] == ""


def test_names_are_text_in_it():
    tree = load_job().tree()
    tree["title"] = EVIL
    tree["setup"][0]["name"] = EVIL
    for kind, name in (("pack", tree["setup"][0]["pack"]), ("tune", tree["setup"][0]["tune"])):
        tree[kind][EVIL] = tree[kind][name]
        tree["setup"][0][kind] = EVIL
    del tree["compare_to"]
    session = Session.of(build_job(tree, name="job"))
    read = look(session)
    assert read.faults == []
    assert not read.all("script")
    assert not read.all("img")
    assert EVIL in read.text()
    whole = create_app(session.job).server.test_client().get("/", headers=OWN).text
    assert "<script>alert" not in whole
    assert "<img" not in whole


def test_no_setup_shown_is_said_too():
    session = Session.of(load_job())
    for slot in session.slots:
        session = session.toggle(slot)
    assert "Every setup is hidden" in look(session).text()
