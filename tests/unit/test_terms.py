"""Terms: none without a meaning, and every column of every page has one."""

import pytest
from dash import html

from curves import load_job
from curves.motion.runs import RUN_WORDS
from dashboard.answers.setups import compare
from dashboard.pages.cells import page as how_many_cells
from dashboard.pages.gearing import page as gearing
from dashboard.pages.weakening import page as how_much_weakening
from dashboard.pages.which_pack import page as which_pack
from dashboard.pages.which_pack.figure_scale import PANELS
from dashboard.shell.part_form import MODELS
from dashboard.shell.registry import pages
from dashboard.shell.shell import answered, bodied
from dashboard.shell.tour import STEPS
from dashboard.state.session import Session, View
from dashboard.widgets.figure_card import numbers_table
from dashboard.widgets.meanings import TERMS
from dashboard.widgets.progress import Task
from dashboard.widgets.term_words import FIELDS, SAME, TITLES, WORDS
from dashboard.widgets.terms import label, marked, term_of, what
from tests.spent import loops
from tests.unit.component_tree import parts, words


def test_every_column_of_every_page_tells_what_it_means():
    compared = compare(Session.of(load_job()))
    for page in pages():
        for column in page.columns(compared, View()):
            assert not isinstance(what(column.head, column.key), str), (page.path, column.key)


def test_terms_are_whole():
    assert set(SAME.values()) <= set(TERMS)
    assert all(term.name and term.meaning.endswith(".") for term in TERMS.values())
    assert what("price", "no such term") == "price"
    assert len(STEPS) == 4


def test_fields_and_titles_have_their_terms():
    assert set(FIELDS.values()) | set(TITLES.values()) <= set(TERMS)
    for name in FIELDS:
        part, _, key = name.partition(".")
        assert key in MODELS[part].model_fields
    assert label("Rider", "bike.rider_kg") == "Rider"


def test_every_panel_of_the_first_page_tells_what_it_is():
    assert {panel.title for panel in PANELS} <= set(TITLES)


def test_every_term_has_a_formula_and_a_source():
    # A caution is no quantity; each has its source beside it.
    assert {key for key, term in TERMS.items() if not term.formula} == {"care"}
    assert all(term.source for term in TERMS.values())
    assert set(WORDS.values()) <= set(TERMS)


@pytest.mark.parametrize("word", RUN_WORDS)
def test_every_word_that_limits_opens_its_meaning(word):
    (opening,) = _openings(marked(f"held by {word}"))
    assert (words(opening), opening.tabIndex, opening.role) == (word, 0, "button")


def test_a_sentence_stays_as_it_reads_and_opens_a_term_once():
    said = [
        html.H1("“Base speed” has field weakening, 45 ± 3 km/h: no-load speed."),
        html.Ul([html.Li("Field weakening again"), html.Li(["past base speed", html.B("x")])]),
        html.Button("voltage"),
        None,
    ]
    before = words(said)
    found = marked(said)
    assert words(found) == before
    opened = [(words(x), getattr(x, "data-term")) for x in _openings(found)]
    assert opened == [
        ("field weakening", "field-weakening"),
        ("no-load speed", "no-load-speed"),
        ("base speed", "base-speed"),
    ]


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.path)
def test_pages_read_as_before_and_explain_their_words(page):
    compared = compare(Session.of(load_job()))
    said = page.answer(compared, View())
    plain = words(said)
    assert words(answered(page, compared, View())).startswith(plain)
    if page.path == "/":
        opened = {getattr(x, "data-term") for x in _openings(answered(page, compared, View()))}
        assert {"charge", "drive-off", "field-weakening"} <= opened
        leads = _openings(bodied(page, compared, View()))
        assert "road-load" in {getattr(x, "data-term") for x in leads}


def test_marking_is_cheap():
    """The answer is built anew at every key."""
    compared = compare(Session.of(load_job()))
    answers = [which_pack.answer(compared, View()) for _ in range(20)]
    # A millisecond each, on a machine whose loop takes 13.
    assert loops(lambda: marked(answers.pop()), tries=20) < 1 / 13


def test_every_plot_title_and_head_of_numbers_tells_what_it_is():
    compared = compare(Session.of(load_job().replace("conditions.altitude_m", 100.0)))
    names = {r.name for r in compared.readings}
    for page in (how_many_cells, how_much_weakening, gearing):
        page._work(compared, View(), Task())
        notes = page._draw(compared, View())["layout"]["annotations"]
        titles = [x["text"].removeprefix("<b>") for x in notes if x["text"].startswith("<b>")]
        assert len(titles) > 3
        heads = [head for head in page._numbers(compared, View())[0] if head not in names]
        assert [x for x in (*titles, *heads) if term_of(x) is None] == []


def test_a_head_opens_its_meaning_and_is_saved_as_it_reads():
    table = numbers_table(["Setting, A", "“x”"], [["1", "2"]], "Top speed, km/h")
    asks = [x for x in parts(table) if getattr(x, "className", "") == "asks"]
    assert [getattr(x, "data-term") for x in asks] == ["field-weakening"]
    assert words(table).startswith("Top speed, km/hSetting, A“x”")
    assert [getattr(x, "data-term") for x in _openings(table)] == ["full"]


def _openings(part):
    return [x for x in parts(part) if getattr(x, "className", "") == "what"]
