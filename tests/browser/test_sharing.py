"""A link brings the job over, a wrong one changes nothing; numbers and figures are carried away."""

import base64
import html
import json
import re
import zlib

from playwright.sync_api import expect

TITLE = "<b>13</b> & <i>16</i> cells"
PARTS_OF_A_PICTURE = {"png": b"\x89PNG", "svg": b"<svg"}


def menu(page) -> None:
    page.get_by_text("Open, share", exact=True).click()


def cells(page):
    page.get_by_label("Edit pack cells-13").first.click()
    return page.get_by_label("Cells in series")


def packed(text: bytes) -> str:
    """A text as a link carries it."""
    deflate = zlib.compressobj(9, zlib.DEFLATED, -15)
    return base64.urlsafe_b64encode(deflate.compress(text) + deflate.flush()).decode().rstrip("=")


def wrong_links(link: str, address: str) -> list[str]:
    return [
        link[:-40],
        link.replace("#job=", "#j="),
        f"{address}#job=q1YqyUgsUbJSUCrPSC1KVaoFAA",  # another table: {"that": "where"}
        "#job=" + "A" * 70_000,
        f"{address}#job={packed(b'[' * 200_000 + b']' * 200_000)}",
    ]


def test_a_link_carries_the_job_and_undo_brings_the_other_back(open_page, demo):
    page = open_page(demo)
    cells(page).fill("15")
    expect(page.locator("h1")).to_contain_text("15 cells")
    asked = []
    page.on("request", lambda r: asked.append(r.url))
    menu(page)
    page.get_by_role("button", name="Copy a link to this job").click()
    field = page.get_by_label("Link to a job")
    expect(field).to_have_value(re.compile("#job="))
    link = field.input_value()
    assert len(link) < 8_000
    assert not any("job=" in url for url in asked)

    other = open_page(demo)
    expect(other.locator("h1")).to_contain_text("13 cells")
    menu(other)
    other.get_by_label("Link to a job").fill(link)
    expect(other.locator("h1")).to_contain_text("15 cells")
    other.get_by_label("Undo the last change").click()
    expect(other.locator("h1")).to_contain_text("13 cells")
    menu(other)
    for wrong in wrong_links(link, demo):
        other.get_by_label("Link to a job").fill(wrong)
        expect(other.get_by_role("status")).to_contain_text("your job is as it was")
        expect(other.locator("h1")).to_contain_text("13 cells")

    fresh = open_page(link)
    expect(fresh.locator("h1")).to_contain_text("15 cells")
    assert "#" not in fresh.url
    expect(fresh.get_by_role("status")).to_contain_text("Undo brings back what was here")
    fresh.get_by_role("status").click()
    expect(fresh.get_by_role("status")).to_be_empty()
    fresh.reload()
    expect(fresh.locator("h1")).to_contain_text("15 cells")


def test_numbers_and_figures_are_carried_away(open_page, demo):
    page = open_page(demo)
    menu(page)
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save as a job file").click()
    expect(page.locator("#share-said")).to_have_text("Saved job.toml")
    with page.expect_download() as saved:
        page.get_by_role("button", name="For other programs", exact=False).last.click()
    found = json.loads(saved.value.path().read_text(encoding="utf-8"))
    assert found["format"] == "rimforce-curves-1"
    assert [x["name"] for x in found["setups"]][:2] == ["as delivered", "13 cells"]
    with page.expect_download() as saved:
        page.get_by_role("button", name="As a spreadsheet").last.click()
    assert saved.value.path().read_text(encoding="utf-8").startswith("setup,speed km/h")
    # What a title holds is text in a picture too, not markup that its maker takes for its own.
    page.evaluate(f"document.getElementById('job-title').textContent = '{TITLE}'")
    for kind, begins in PARTS_OF_A_PICTURE.items():
        with page.expect_download() as saved:
            page.get_by_role("button", name=f"Over road speed as {kind.upper()}").click()
        assert saved.value.suggested_filename == f"rimforce-over-road-speed.{kind}"
        assert saved.value.path().read_bytes().startswith(begins)
        expect(page.locator("#share-said")).to_have_text(f"Saved rimforce-over-road-speed.{kind}")
    picture = saved.value.path().read_text(encoding="utf-8")
    assert TITLE in html.unescape(picture)
    assert "@font-face" in picture
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", picture)
    page.get_by_role("button", name="Copy a link to this job").click()
    expect(page.get_by_text("Link copied.")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#share")).not_to_have_attribute("open", "")
    menu(page)
    expect(page.locator("#share-said")).to_be_empty()


def test_what_the_open_page_has_is_carried_away_whole_and_the_report_is_a_click_off(
    open_page, demo
):
    page = open_page(demo, "runs")
    expect(page.get_by_role("heading", name="Over the way")).to_be_visible()
    expect(page.locator("h1")).not_to_contain_text("…")
    menu(page)
    expect(page.locator(".share-figure")).to_have_count(page.locator(".js-plotly-plot").count())
    with page.expect_download() as saved:
        page.get_by_role("button", name="Over the way as SVG").click()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Page as a spreadsheet").click()
    assert saved.value.suggested_filename == "how-quick.csv"
    text = saved.value.path().read_text(encoding="utf-8")
    for title in ("Setups compared", "Speed, km/h", "What holds the force along the run"):
        assert re.search(f'^"?{title}"?$', text, re.MULTILINE), title
    with page.expect_download() as saved:
        page.get_by_role("button", name="Page for other programs").click()
    found = json.loads(saved.value.path().read_text(encoding="utf-8"))
    assert (found["format"], found["page"]) == ("rimforce-page-1", "How quick?")
    first = found["tables"][0]
    assert [row[0] for row in first["rows"]][:2] == ["as delivered", "13 cells"]
    assert isinstance(first["rows"][0][first["columns"].index("To 60 ft, s")], float)

    page.get_by_role("link", name="Make the report").click()
    expect(page.get_by_role("link", name="What do I hand over?")).to_be_visible()
    expect(page.locator("#share")).not_to_have_attribute("open", "")


def test_a_table_that_the_browser_alone_has_is_carried_away_too(open_page, demo):
    page = open_page(demo)
    menu(page)
    with page.expect_download() as saved:
        page.get_by_role("button", name="Page for other programs").click()
    tables = json.loads(saved.value.path().read_text(encoding="utf-8"))["tables"]
    titles = [table["title"] for table in tables]
    assert titles == ["Setups compared", "Over road speed", "Top speed gained, km/h"]
    assert len({row[0] for row in tables[1]["rows"]}) == 6
