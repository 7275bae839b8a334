"""Terms: none without a meaning, and every column of every page has one."""

from curves import load_job
from dashboard.components.part_form import MODELS
from dashboard.components.terms import FIELDS, SAME, TERMS, TITLES, label, what
from dashboard.components.tour import STEPS
from dashboard.figures.scale import PANELS
from dashboard.pages.registry import pages
from dashboard.results import compare
from dashboard.state import Session, View


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
