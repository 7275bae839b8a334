"""The first page in a real browser: it answers, follows an edit, and keeps what was done."""

import json

import pytest
from playwright.sync_api import expect

from curves import load_job
from curves.parts.job import build_job
from tests.browser.conftest import until

SERIES = "Cells in series"
FORCE_OF_13 = """(() => {
  const plot = document.querySelector('.js-plotly-plot');
  const line = plot.data.find((t) => t.mode === 'lines' && t.name === '13 cells');
  return Array.from(plot.calcdata[plot.data.indexOf(line)].map((p) => p.y)).join();
})()"""


def row(page, name):
    return page.locator(".setups tbody tr").filter(
        has=page.get_by_label(f"Name of {name}", exact=True)
    )


def cell(page, name, head):
    heads = page.locator(".setups thead th").all_inner_texts()
    place = next(k for k, text in enumerate(heads) if head in text)
    return row(page, name).locator("th, td").nth(place).locator(".cell")


def edit_13(page):
    page.get_by_label("Edit pack cells-13").first.click()
    return page.get_by_label(SERIES)


def test_it_answers_first(demo, open_page):
    page = open_page(demo)
    assert page.locator("html").get_attribute("lang") == "en"
    expect(page.locator("h1")).to_contain_text("With 1,200 W, 13 cells are enough when full")
    expect(page.locator("h1")).to_contain_text("±")
    expect(page.get_by_text("the motor, packs and bike are invented")).to_be_visible()
    assert page.locator(".setups tbody tr").count() == len(load_job().setup)


def test_a_packs_cells_move_curve_sentence_and_top_speed(demo, open_page):
    page = open_page(demo)
    series = edit_13(page)
    before = page.evaluate(FORCE_OF_13)
    empty = cell(page, "13 cells", "Nearly empty").inner_text()
    series.fill("15")
    expect(page.locator("h1")).to_contain_text("15 cells are enough when full")
    expect(cell(page, "13 cells", "Nearly empty")).not_to_have_text(empty)
    until(page, f"{FORCE_OF_13} !== '{before}'")


def test_a_wrong_value_is_told_beside_the_field_and_changes_nothing(demo, open_page):
    page = open_page(demo)
    headline = page.locator("h1").inner_text()
    series = edit_13(page)
    series.fill("0")
    expect(page.locator(".form .mantine-InputWrapper-error")).to_contain_text("at least 1")
    assert page.locator("h1").inner_text() == headline
    series.fill("13")
    expect(page.locator(".form .mantine-InputWrapper-error")).to_have_count(0)


def test_opening_a_form_changes_nothing(demo, open_page):
    page = open_page(demo)
    kept = (
        "JSON.stringify(Object.entries(localStorage).filter(([k]) => k.startsWith('rimforce/job')))"
    )
    for part in ("pack cells-13", "tune town"):
        page.get_by_label(f"Edit {part}").first.click()
        expect(page.get_by_label("Part to edit").first).to_have_value(part.split()[1])
        expect(page.locator(".form .fields input").nth(5)).to_be_attached()
    # The answer to a change asked for afterwards comes after those to the forms.
    page.get_by_label("Hide 20 cells in the plots").click()
    expect(page.get_by_label("Show 20 cells in the plots")).to_be_visible()
    (stored,) = json.loads(page.evaluate(kept))
    assert build_job(json.loads(stored[1])["tree"], name="job") == load_job()
    assert page.locator(".form .mantine-InputWrapper-error").count() == 0


def test_charge_in_the_row_moves_the_plots_and_keeps_the_cursor(demo, open_page):
    page = open_page(demo)
    before = page.evaluate(FORCE_OF_13)
    charge = page.get_by_label("Charge of 13 cells, percent")
    charge.click()
    charge.press("Control+a")
    charge.press_sequentially("30", delay=60)
    expect(page.get_by_role("columnheader", name="At its charge")).to_be_visible()
    until(page, f"{FORCE_OF_13} !== '{before}'")
    expect(charge).to_have_value("30")
    expect(charge).to_be_focused()


def test_a_pack_is_chosen_in_the_row_and_a_name_typed_on(demo, open_page):
    page = open_page(demo)
    page.get_by_label("Pack of 13 cells", exact=True).select_option("cells-20")
    expect(row(page, "13 cells")).to_contain_text("84.0 / 72")
    name = page.get_by_label("Name of 13 cells", exact=True)
    name.click()
    name.press("Control+a")
    name.press_sequentially("twenty", delay=30)
    renamed = page.get_by_label("Name of twenty", exact=True)
    expect(renamed).to_be_focused()
    renamed.press("End")
    renamed.press_sequentially(" more", delay=30)
    expect(page.get_by_label("Name of twenty more")).to_have_value("twenty more")
    expect(page.get_by_label("Hide twenty more in the plots")).to_be_visible()


def test_what_a_row_does_not_take_is_said_beside_it_and_undone(demo, open_page):
    page = open_page(demo)
    charge = page.get_by_label("Charge of 13 cells, percent")
    charge.fill("120")
    refused = "must be from 0 to 100 %; 100 % stays in force"
    expect(row(page, "13 cells").get_by_role("alert")).to_have_text(refused)
    expect(charge).to_have_attribute("aria-invalid", "true")
    charge.fill("60")
    expect(row(page, "13 cells").get_by_role("alert")).to_have_count(0)
    expect(page.get_by_role("columnheader", name="At its charge")).to_be_visible()
    page.get_by_label("Undo the last change").click()
    expect(charge).to_have_value("100")
    name = page.get_by_label("Name of 13 cells", exact=True)
    name.fill("16 cells")
    expect(row(page, "13 cells").get_by_role("alert")).to_contain_text("name of an earlier setup")


VIEW_MEANWHILE = """(() => {
  const fetched = window.fetch;
  window.fetch = (...asked) => fetched(...asked).then((reply) => {
    const view = { ...JSON.parse(localStorage.getItem('rimforce/view')), pinned_kmh: [31] };
    const change = () => window.dash_clientside.set_props('view', { data: view });
    if (asked[0] === 'typed') setTimeout(change, 10);
    return reply;
  });
})()"""
"""The view changes between the answer to what is typed and the page's own turn."""


def test_what_is_typed_outlives_a_change_of_the_view(demo, open_page):
    page = open_page(demo)
    series = edit_13(page)
    expect(series).to_be_visible()
    page.evaluate(VIEW_MEANWHILE)
    series.fill("15")
    expect(page.get_by_role("columnheader", name="Force at 31")).to_be_visible()
    expect(page.locator("h1")).to_contain_text("15 cells")


def test_undo_reload_and_back_to_what_was_opened(demo, open_page):
    page = open_page(demo)
    headline = page.locator("h1").inner_text()
    edit_13(page).fill("15")
    expect(page.locator("h1")).to_contain_text("15 cells")
    page.reload()
    expect(page.locator("h1")).to_contain_text("15 cells")
    page.get_by_text("Open, share", exact=True).click()
    page.get_by_role("button", name="Back to the job as opened").click()
    expect(page.locator("h1")).to_have_text(headline)
    page.get_by_label("Undo the last change").click()
    expect(page.locator("h1")).to_contain_text("15 cells")
    page.get_by_label("Redo").click()
    expect(page.locator("h1")).to_have_text(headline)


def test_setups_come_go_and_hide(demo, open_page):
    page = open_page(demo)
    rows = page.locator(".setups tbody tr")
    page.get_by_label("Duplicate 16 cells").click()
    expect(rows).to_have_count(7)
    page.get_by_label("Remove as delivered").click()
    expect(rows).to_have_count(6)
    page.get_by_label("Hide 20 cells in the plots").click()
    expect(page.get_by_label("Show 20 cells in the plots")).to_be_visible()
    names = "() => document.querySelector('.js-plotly-plot').data.map((t) => t.name)"
    assert "20 cells" not in page.evaluate(names)
    assert "16 cells (2)" in page.evaluate(names)


def test_pinned_speeds_and_units(demo, open_page):
    page = open_page(demo)
    pins = page.get_by_role("textbox", name="Pinned speeds, km/h")
    pins.fill("32")
    pins.press("Enter")
    expect(page.get_by_role("columnheader", name="Force at 32")).to_be_visible()
    page.get_by_text("Units", exact=True).click()
    page.get_by_text("mph", exact=True).click()
    expect(page.locator("h1")).to_contain_text("mph")
    expect(page.get_by_role("columnheader", name="Force at 16")).to_be_visible()
    kept = json.loads(page.evaluate("localStorage.getItem('rimforce/view')"))
    # Showing a speed in another unit must not change it.
    assert kept["pinned_kmh"] == [25, 32]


def test_the_numbers_behind_the_plot(demo, open_page):
    page = open_page(demo)
    page.get_by_role("button", name="The numbers").click()
    expect(page.get_by_role("region", name="Force at the rim, N")).to_be_visible()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save all as CSV").click()
    text = saved.value.path().read_text(encoding="utf-8")
    assert text.startswith("setup,speed km/h,force at the rim N")


def test_a_saved_job_opens_again(demo, open_page, tmp_path):
    page = open_page(demo)
    edit_13(page).fill("15")
    expect(page.locator("h1")).to_contain_text("15 cells")
    page.get_by_text("Open, share", exact=True).click()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save as a job file").click()
    file = tmp_path / "job.toml"
    saved.value.save_as(file)
    # The pack is named after its cells, and its name goes with them.
    assert load_job(file).pack["cells-15"].series == 15


@pytest.mark.parametrize("text", ["", "not a job", 'format = "rimforce-job-1"', "\x00\x01"])
def test_a_file_that_is_no_job_is_refused_in_words(demo, open_page, tmp_path, text):
    page = open_page(demo)
    headline = page.locator("h1").inner_text()
    file = tmp_path / "wrong.toml"
    file.write_text(text, encoding="utf-8")
    page.get_by_text("Open, share", exact=True).click()
    page.locator("input[type=file]").set_input_files(file)
    expect(page.get_by_role("status")).to_contain_text("not opened")
    assert page.locator("h1").inner_text() == headline


def test_a_name_is_only_ever_text(serve, open_page):
    name = "<img src=x onerror=alert(1)>"
    job = load_job().replace("setup.13 cells.name", name)
    page = open_page(serve(job))
    expect(page.get_by_label(f"Name of {name}", exact=True)).to_have_value(name)
    assert page.locator("img").count() == 0
    drawn = page.locator(".js-plotly-plot text").filter(has_text="<img src=x")
    assert drawn.count() > 0
    page.locator(".js-plotly-plot .nsewdrag").first.hover()
    expect(page.locator(".js-plotly-plot .hoverlayer")).to_contain_text("<img src=x")
    assert page.locator("img").count() == 0


def test_plots_offer_no_upload(demo, open_page):
    page = open_page(demo)
    page.locator(".js-plotly-plot").first.hover()
    titles = page.locator(".modebar-btn").evaluate_all("b => b.map((x) => x.dataset.title)")
    assert titles
    assert not [t for t in titles if t and ("cloud" in t.lower() or "produced" in t.lower())]


def test_a_pinned_speed_is_moved_by_keys_and_by_hand(demo, open_page):
    page = open_page(demo)
    handle = page.get_by_label("Pinned speed 1, km/h")
    expect(handle).to_have_value("25")
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    expect(page.get_by_role("columnheader", name="Force at 27")).to_be_visible()
    line = "document.querySelector('.js-plotly-plot').layout.shapes[0].x0"
    until(page, f"{line} === 27")
    last, grip = float(handle.get_attribute("max")), 18
    across = handle.bounding_box()["width"] - grip
    handle.hover(position={"x": grip / 2 + 27 / last * across, "y": 9})
    page.mouse.down()
    box = handle.bounding_box()
    page.mouse.move(box["x"] + grip / 2 + 40 / last * across, box["y"] + 9, steps=4)
    page.mouse.up()
    expect(page.get_by_role("columnheader", name="Force at 40")).to_be_visible()
    until(page, f"{line} === 40")
    # The handle stands over the line.
    drawn = page.locator(".js-plotly-plot .shapelayer path").first.bounding_box()
    box = handle.bounding_box()
    assert drawn["x"] == pytest.approx(box["x"] + grip / 2 + 40 / last * across, abs=2)


def test_a_table_is_sorted_by_its_heading_and_saved(serve, open_page):
    job = load_job().replace("setup.13 cells.name", "=1+1")
    page = open_page(serve(job.replace("setup.16 cells.name", "1,300")))
    table = page.get_by_role("region", name="Top speed gained").locator("table")
    table.get_by_role("button", name="100 W more").click()
    heads = [head.split("\n")[0] for head in table.locator("thead th").all_inner_texts()]
    gains = table.locator(f"tbody tr td:nth-child({heads.index('100 W more') + 1})")
    expect(table.locator("th[aria-sort]")).to_have_attribute("aria-sort", "ascending")
    shown = gains.all_inner_texts()
    assert shown == sorted(shown, key=lambda x: (x == "–", x))
    with page.expect_download() as saved:
        page.locator(".numbers-table", has=table).get_by_role("button").last.click()
    text = saved.value.path().read_text(encoding="utf-8")
    assert text.startswith("Setup,one more cell in series,")
    assert len(text.splitlines()) == 1 + len(shown)
    # A spreadsheet must not take a name for a formula.
    assert "\n'=1+1," in text
    # A name that looks like a number is a name.
    assert '\n"1,300",' in text


def test_what_was_opened_stays_open_in_its_own_column_alone(demo, open_page):
    page = open_page(demo)
    cell(page, "13 cells", "Fits?").locator("summary").click()
    page.get_by_label("Hide 20 cells in the plots").click()
    expect(page.get_by_label("Show 20 cells in the plots")).to_be_visible()
    expect(page.locator(".setups details[open]")).to_have_count(1)
    page.get_by_role("link", name="How much weakening?").click()
    expect(page.get_by_role("columnheader", name="Fits?")).to_have_count(0)
    expect(page.locator(".setups details[open]")).to_have_count(0)
