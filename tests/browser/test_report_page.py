"""The report page: typed words, a preview that runs nothing, and the files."""

import importlib.util

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from curves import load_job
from curves.report import Wish, read_report, report
from tests.browser.conftest import until

EVIL = "<img src=x onerror=alert(1)>"


@pytest.fixture(scope="module")
def job():
    """Two setups, one of a hostile name: quick, and what is checked does not need more."""
    tree = load_job().tree()
    tree["setup"] = tree["setup"][:2]
    tree["setup"][1]["name"] = EVIL
    from curves.parts.job import build_job

    return build_job(tree, name="two")


def test_a_report_is_typed_previewed_and_saved(serve, open_page, job, tmp_path):
    address = serve(job)
    page = open_page(address, "report")
    expect(page.locator("h1")).to_contain_text("The report says:", timeout=120_000)
    expect(page.locator("#report-preview")).to_have_attribute("sandbox", "")
    # Beside the answer, not a screen further down.
    save = page.get_by_role("button", name="Save the report")
    assert save.bounding_box()["y"] < 450
    preview = page.frame_locator("#report-preview")
    expect(preview.locator("h1")).to_have_text(job.title)
    page.get_by_role("textbox", name="Question").fill(f"Which pack? {EVIL}")
    page.get_by_role("textbox", name="Workshop").fill("Wheel & Wire")
    page.get_by_role("textbox", name="Date").fill("2 March")
    page.get_by_role("textbox", name="Notes").fill(f"Hello {EVIL}")
    expect(preview.locator(".user-notes")).to_have_text(f"Hello {EVIL}")
    expect(preview.locator("h1")).to_have_text(f"Which pack? {EVIL}")
    expect(preview.locator(".workshop").first).to_have_text("Wheel & Wire")
    assert preview.locator("img").count() == 0
    # Nothing in it may run, whatever it holds.
    expect(page.locator("#report-preview")).to_have_attribute("sandbox", "")

    with page.expect_download() as saved:
        save.click()
    saved.value.save_as(tmp_path / "report.html")
    expect(page.locator("#report-saved")).to_have_text("Saved report.html")
    expect(page.locator("#report-saved")).to_have_role("status")
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    asked = Wish(f"Which pack? {EVIL}", f"Hello {EVIL}", "Wheel & Wire", "2 March")
    # The same bytes as anybody else gets for this job and these words.
    assert text == report(job, asked)
    assert read_report(text) == job

    if importlib.util.find_spec("weasyprint"):
        with page.expect_download() as saved:
            page.get_by_role("button", name="Save as PDF").click()
        assert saved.value.suggested_filename == "report.pdf"
        assert saved.value.path().read_bytes().startswith(b"%PDF-")
    else:
        expect(page.get_by_text("pip install 'rimforce[pdf]'")).to_be_visible()

    found = Axe().run(page)
    assert [v["id"] for v in found.response["violations"]] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    page.set_input_files("#open input", tmp_path / "report.html")
    expect(page.locator("#message")).to_be_empty()
    expect(page.locator(f"[value='{EVIL}']").first).to_be_visible()


BESIDE = """(() => {
  const all = [...document.querySelectorAll('#page-answer button, #page-answer a')];
  const tops = ['Save the report', 'Workshop, notes, what goes in'].map(
    (said) => all.find((one) => one.textContent === said)?.getBoundingClientRect().top);
  return Math.abs(tops[0] - tops[1]) < 60;
})()"""


@pytest.mark.parametrize("width", [1280, 390])
def test_a_link_beside_the_button_leads_to_what_goes_in(serve, open_page, job, width):
    address = serve(job)
    page = open_page(address, "report", width=width)
    save = page.get_by_role("button", name="Save the report")
    expect(save).to_be_visible(timeout=120_000)
    expect(page.locator("#report-saved")).to_be_empty()
    link = page.get_by_role("link", name="Workshop, notes, what goes in")
    # The answer may be drawn anew in between, once the page's width is known.
    until(page, BESIDE)
    heading = page.get_by_role("heading", name="What goes in")
    for _again in range(2):
        link.click()
        expect(page.get_by_role("textbox", name="Question")).to_be_focused()
        expect(heading).to_be_in_viewport()
        expect(page.locator("h1")).to_contain_text("The report says:")
    page.keyboard.type("Which pack?")
    preview = page.frame_locator("#report-preview")
    expect(preview.locator("h1")).to_have_text("Which pack?")


def test_the_sign_of_a_saved_report_is_of_that_report_alone(serve, open_page, job):
    address = serve(job)
    page = open_page(address, "report")
    sign = page.locator("#report-saved")
    with page.expect_download():
        page.get_by_role("button", name="Save the report").click(timeout=120_000)
    expect(sign).to_have_text("Saved report.html")
    # Drawn anew for another width, it is the same report.
    page.set_viewport_size({"width": 700, "height": 900})
    page.wait_for_timeout(1500)
    expect(sign).to_have_text("Saved report.html")
    # What is typed since is not in the file.
    page.get_by_role("textbox", name="Workshop").fill("Wheel & Wire")
    expect(sign).to_be_empty()
    page.get_by_text("Open, share", exact=True).click()
    with page.expect_download():
        page.get_by_role("button", name="Save as a job file").click()
    expect(page.locator("#share-said")).to_have_text("Saved job.toml")
    expect(sign).to_be_empty()
