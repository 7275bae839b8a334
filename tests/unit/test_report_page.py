"""The report's page: what is typed goes in, hidden setups stay out, the file is the library's."""

import base64

import pytest
from dash import html

from curves import JobError, Problem, load_job
from curves.parts.job import build_job
from curves.report import PackStudy, WeakeningStudy, Wish, read_report, report
from curves.report.pdf import NO_LIBRARY
from dashboard.answers.setups import compare
from dashboard.app import create_app
from dashboard.pages.report import page as report_page
from dashboard.pages.report import study as reported
from dashboard.pages.report.page import SAVE, SAVE_PDF
from dashboard.pages.report.study import AMPS, SERIES, Asked
from dashboard.state.session import Session, View
from dashboard.widgets.progress import Task
from tests.asking import inside
from tests.unit.component_tree import ids_of, words

EVIL = "<img src=x onerror=alert(1)>"
TYPED = {"title": EVIL, "notes": "Hello", "workshop": "W & W", "date": "2 March"}


@pytest.fixture(scope="module")
def page():
    return inside(create_app())


@pytest.fixture(scope="module")
def session():
    """Three setups, the last of them hidden."""
    tree = load_job().tree()
    tree["setup"] = tree["setup"][:3]
    return Session(build_job(tree, name="job"), (0, 1, 2), frozenset({2}))


def looked(**asked):
    return View(extra={"report": {"endurance": False, **asked}})


def shown(page, session, view):
    return page.ask(
        "report-preview.srcDoc", "settled.data", session=session.data(), view=view.data()
    )


def test_it_is_worked_out_and_then_shown_and_saved(page, session):
    view = looked(**TYPED, packs=[1], weakening=[1])
    before = shown(page, session, view)
    assert before["report-preview.srcDoc"] == ""
    compared = compare(session)
    assert SAVE not in ids_of(report_page.answer(compared, view))
    page.ask(
        "working-report.data",
        "settled.data",
        session=session.data(),
        view=view.data(),
        working_report={"width": 1200, "page": "one"},
    )
    after = shown(page, session, view)
    text = after["report-preview.srcDoc"]
    assert SAVE in ids_of(report_page.answer(compared, view))
    kept = session.job.replace("setup", session.job.tree()["setup"][:2])
    name = kept.setup[1].name
    asked = Wish(
        **TYPED,
        packs=(PackStudy(name, SERIES),),
        weakenings=(WeakeningStudy(name, AMPS),),
        endurance=False,
    )
    # Its bytes are those of the command for the setups shown and the same words.
    assert text == report(kept, asked)
    assert read_report(text) == kept
    assert "<img" not in text
    saved = page.ask(
        "download.data@", "report-save.n_clicks", report_save=1,
        session=session.data(), view=view.data(),
    )  # fmt: skip
    assert saved["download.data"] == {
        "content": text, "filename": "report.html", "type": "text/html", "base64": False,
    }  # fmt: skip


def test_words_alone_cost_no_new_results(session, monkeypatch):
    compared = compare(session)
    reported.work(compared, looked(), Task())
    monkeypatch.setattr(reported, "results", None)
    found = reported.made(compared, looked(**TYPED, to_set=[1]))
    assert found.wish.title == EVIL
    assert found.wish.to_set == (session.job.setup[1].name,)


def test_a_hidden_reference_is_no_reference(session):
    hidden = Session(session.job, session.slots, frozenset({0}))
    assert session.job.compare_to == session.job.setup[0].name
    job = reported.job_of(compare(hidden))
    assert job.compare_to is None
    assert [s.name for s in job.setup] == [s.name for s in session.job.setup[1:]]


@pytest.mark.parametrize(
    "kept",
    [None, [], "x", {"title": 3, "date": 1, "to_set": "1", "packs": [[1]], "endurance": "yes"}],
)
def test_what_a_browser_keeps_may_be_anything(kept):
    assert Asked.of(View(extra={"report": kept})) == Asked()


def test_what_is_typed_is_bounded():
    assert len(Asked.of(looked(notes="a" * 1_000_000)).notes) == reported.MOST_LETTERS


def test_typing_is_kept_in_the_view(page):
    said = page.ask(
        "view.data@", "report-title.value", view=View().data(), report_to_set=["1"],
        report_packs=None, report_weakening=["0", "x"], report_endurance=False,
        **{f"report_{name}": value for name, value in TYPED.items()},
    )  # fmt: skip
    (change,) = said["view.data"]["operations"]
    assert change["location"] == ["extra", "report"]
    asked = Asked.of(View(extra={"report": change["params"]["value"]}))
    assert asked == Asked(**TYPED, to_set=(1,), weakening=(0,), endurance=False)


def test_a_pdf_needs_its_package_and_the_page_says_how_to_get_it(session, monkeypatch):
    compared = compare(session)
    reported.work(compared, looked(), Task())
    for buttons in ((SAVE,), (SAVE, SAVE_PDF)):
        monkeypatch.setattr(report_page, "_buttons", lambda known=buttons: known)
        body = html.Div(report_page.body(compared, looked()))
        assert ("pip install 'rimforce[pdf]'" in words(body)) == (SAVE_PDF not in buttons)
        assert (SAVE_PDF in ids_of(report_page.answer(compared, looked()))) == (SAVE_PDF in buttons)


def test_the_pdf_is_of_the_page_shown_and_what_hinders_it_is_said(session, monkeypatch):
    monkeypatch.setattr(report_page, "_buttons", lambda: (SAVE, SAVE_PDF))
    monkeypatch.setattr(report_page, "_page", lambda *_: "the page")
    pressed = {"report_save_pdf": 1, "session": session.data(), "view": looked().data()}
    page = inside(create_app())

    monkeypatch.setattr(report_page, "pdf", lambda said: b"%PDF- of " + said.encode())
    found = page.ask("download.data@", "report-save-pdf.n_clicks", **pressed)
    sent = found["download.data"]
    assert base64.b64decode(sent["content"]) == b"%PDF- of the page"
    assert sent["filename"] == "report.pdf"

    def hindered(_page):
        raise JobError([Problem("PDF", "", NO_LIBRARY)])

    monkeypatch.setattr(report_page, "pdf", hindered)
    found = page.ask("download.data@", "report-save-pdf.n_clicks", **pressed)
    assert "libpango" in found["message.children"]
    assert "download.data" not in found
