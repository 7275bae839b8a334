"""Editing in a real browser: parts renamed and made, errors as typed, two tabs, files kept."""

import json
import time

from playwright.sync_api import expect

from curves import dump_job, load_job
from tests.browser.conftest import PATIENCE_MS, until

NAME = "Name of the pack"


def stored(page):
    kept = page.evaluate(
        "Object.entries(localStorage).find(([k]) => k.startsWith('rimforce/job'))[1]"
    )
    return json.loads(kept)["tree"]


def test_parts_are_renamed_made_from_a_profile_and_taken_away(demo, open_page):
    page = open_page(demo)
    page.get_by_label("Edit pack cells-13").first.click()
    page.get_by_label(NAME).fill("cells-16")
    page.keyboard.press("Enter")
    expect(page.locator(".form .mantine-InputWrapper-error")).to_contain_text("taken")
    page.get_by_label(NAME).fill("thirteen")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Part to edit").first).to_have_value("thirteen")
    expect(page.get_by_label("Edit pack thirteen").first).to_be_visible()
    page.get_by_role("button", name="New pack like this one").click()
    expect(page.get_by_label(NAME)).to_have_value("thirteen (2)")
    page.get_by_role("button", name="Remove this pack").click()
    expect(page.locator(".form.open")).to_have_count(0)
    page.get_by_label("Edit setup 13 cells", exact=True).click()
    magnet = page.get_by_label("Magnet")
    magnet.fill("5000")
    expect(page.locator(".form .mantine-InputWrapper-error")).to_contain_text("1000")
    magnet.fill("60")
    expect(page.locator(".form .mantine-InputWrapper-error")).to_have_count(0)
    until(page, "JSON.stringify(localStorage).includes('magnet_c')")
    assert "thirteen (2)" not in stored(page)["pack"]
    page.get_by_label("Part to edit").first.fill("hub")
    page.get_by_role("option", name="hub").click()
    page.get_by_role("button", name="New motor from the profile demo-mid-drive").click()
    expect(page.get_by_label("Name of the motor")).to_have_value("demo-mid-drive")
    page.get_by_label("Undo the last change").click()
    until(page, "!JSON.stringify(localStorage).includes('demo-mid-drive')")


def test_a_second_tab_follows_and_nothing_is_lost(demo, open_page):
    page = open_page(demo)
    other = page.context.new_page()
    other.goto(demo)
    other.wait_for_selector(".js-plotly-plot .barlayer .point")
    page.get_by_label("Edit pack cells-13").first.click()
    page.get_by_label("Cells in series").fill("15")
    expect(other.locator("h1")).to_contain_text("15 cells are enough")
    other.get_by_label("Undo the last change").click()
    expect(other.locator("h1")).to_contain_text("13 cells are enough")
    expect(page.locator("h1")).to_contain_text("13 cells are enough")


BOTH = """(function () {
  const { pack, tune } = rimforceJob.now().tree;
  return [pack['cells-13'].series, tune.town.power_cap_w, %s];
})()"""
SAID = "document.getElementById('message').textContent.includes('at the same moment')"


def test_two_tabs_at_once_lose_no_change_or_say_so(demo, open_page):
    page = open_page(demo)
    other = page.context.new_page()
    other.goto(demo)
    other.wait_for_selector(".js-plotly-plot .barlayer .point")
    page.get_by_label("Edit pack cells-13").first.click()
    cells = page.get_by_label("Cells in series")
    cells.focus()
    other.get_by_label("Edit tune town").first.click()
    cap = other.get_by_label("Power cap W")
    cap.focus()
    was = other.evaluate(BOTH % 0)[:2]
    cells.fill("15")
    cap.fill("900")
    until(page, f"{BOTH % 0}.join() !== '{was[0]},{was[1]},0'")
    until(other, f"{BOTH % 0}.join() !== '{was[0]},{was[1]},0'")
    deadline = time.monotonic() + PATIENCE_MS / 1000
    while True:
        (*here, told), (*there, told_there) = (tab.evaluate(BOTH % SAID) for tab in (page, other))
        if here == there and (here == [15, 900] or told or told_there):
            break
        assert time.monotonic() < deadline, (here, there, told, told_there)
        page.wait_for_timeout(20)
    if here != [15, 900]:
        asked = page if told else other
        asked.get_by_label("Undo the last change").click()
        until(asked, f"{BOTH % 0}.join() !== '{here[0]},{here[1]},0'")
        kept = asked.evaluate(BOTH % 0)[:2]
        assert sorted(map(str, (*here, *kept))) == sorted(map(str, (*was, 15, 900)))


def test_a_road_that_nothing_climbs_is_told_and_undone(demo, open_page):
    page = open_page(demo)
    page.get_by_label("Edit pack cells-13").first.click()
    page.get_by_label("Part to edit").first.fill("Road")
    page.get_by_role("option", name="Road and air").click()
    page.get_by_label("Grade").fill("40")
    expect(page.locator("h1")).to_contain_text("None of these setups can start")
    expect(page.locator(".setups .cell", has_text="cannot start").first).to_be_visible()
    page.get_by_label("Undo the last change").click()
    expect(page.locator("h1")).to_contain_text("13 cells are enough")


def test_an_opened_file_keeps_its_comments(demo, open_page, tmp_path):
    page = open_page(demo)
    file = tmp_path / "mine.toml"
    words = "# what the customer said\n"
    file.write_text(words + dump_job(load_job()), encoding="utf-8")
    page.get_by_text("Open, share", exact=True).click()
    page.locator("input[type=file]").set_input_files(file)
    until(page, "JSON.stringify(localStorage).includes('what the customer said')")
    page.get_by_label("Edit pack cells-13").first.click()
    page.get_by_label("Cells in series").fill("15")
    expect(page.locator("h1")).to_contain_text("15 cells")
    page.get_by_text("Open, share", exact=True).click()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save as a job file").click()
    text = saved.value.path().read_text(encoding="utf-8")
    assert text.startswith(words)
    assert "series = 15" in text


def test_other_cells_carry_along_what_follows_in_one_step(demo, open_page):
    page = open_page(demo)
    page.get_by_label("Edit pack cells-13").first.click()
    page.get_by_role("button", name="More, where it is known").click()
    cutoff = page.get_by_label("BMS cut-off")
    expect(cutoff).to_have_value("36.4")
    expect(page.locator(".form")).to_contain_text("Other packs have tune “town” too")
    cells = page.get_by_label("Cells in series")
    cells.press("Control+a")
    cells.press_sequentially("15")
    expect(page.locator("h1")).to_contain_text("15 cells are enough")
    cells.press("Tab")
    expect(page.get_by_label(NAME)).to_have_value("cells-15")
    expect(page.get_by_label("Mass kg")).to_have_value("6.34615385")
    expect(page.get_by_label("Parallel strings")).to_be_focused()
    expect(page.locator(".form")).to_contain_text("Tune “town (2)” is this pack’s own")
    until(page, "JSON.stringify(localStorage).includes('cells-15')")
    job = stored(page)
    assert job["pack"]["cells-15"]["bms_cutoff_v"] == 42.0
    assert [setup["tune"] for setup in job["setup"]][:3] == ["town", "town (2)", "town"]
    page.get_by_label("Undo the last change").click()
    until(page, "!JSON.stringify(localStorage).includes('cells-15')")
    assert stored(page)["pack"]["cells-13"] == load_job().tree()["pack"]["cells-13"]
