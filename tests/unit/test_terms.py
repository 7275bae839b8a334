"""Terms: none without a meaning, and every column of every page has one."""

from curves import load_job
from dashboard.components.terms import SAME, TERMS, what
from dashboard.components.tour import STEPS
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
