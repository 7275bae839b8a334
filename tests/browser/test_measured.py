"""The pages of what was measured: bench readings, logs, a re-check; and how each goes wrong."""

from playwright.sync_api import expect

from tests.browser.test_access import violations

MOMENT_MS = 120_000
"""How long working out may take on a slow and busy machine; it takes seconds on a free one."""


def usable(page) -> None:
    """Axe finds nothing, wide and narrow, and nothing is wider than the window."""
    assert violations(page) == []
    page.set_viewport_size({"width": 390, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert violations(page) == []


def test_a_motor_comes_out_of_bench_readings(demo, open_page):
    page = open_page(demo, "motor", scheme="dark")
    expect(page.locator("h1")).to_contain_text("type the readings below")
    page.get_by_role("button", name="Take the demonstration’s").click()
    expect(page.locator("h1")).to_contain_text("20 pole pairs")
    page.get_by_role("button", name="Winding resistance").click()
    cell = page.get_by_label("Amperes, resistance 1", exact=True)
    expect(cell).to_have_value("2.984")
    usable(page)
    # One wrong reading is named and left out; what is typed stays.
    cell.fill("-2.984")
    expect(page.locator("#bench-wrong")).to_contain_text("with the same sign")
    expect(page.locator("h1")).to_contain_text("20 pole pairs")
    expect(cell).to_have_value("-2.984")
    page.get_by_role("button", name="Remove reading 1 of resistance").click()
    expect(page.locator("#bench-wrong")).to_be_empty()
    expect(page.get_by_label("Amperes, resistance 9", exact=True)).to_have_count(0)
    page.get_by_role("button", name="Put it into the job").click()
    expect(page.locator("#bench-done")).to_contain_text("Undo, above, takes it back")


def test_a_file_that_is_no_bench_file_says_so_and_loses_nothing(demo, open_page, tmp_path):
    page = open_page(demo, "motor")
    page.get_by_role("button", name="Take the demonstration’s").click()
    expect(page.locator("h1")).to_contain_text("20 pole pairs")
    wrong = tmp_path / "wrong.toml"
    wrong.write_text('format = "rimforce-bench-1"\nresistance = [ { pair = \n', encoding="utf-8")
    page.locator("#bench-open input[type=file]").set_input_files(wrong)
    expect(page.locator("#message")).to_contain_text("line 2")
    expect(page.locator("h1")).to_contain_text("20 pole pairs")


def test_a_log_is_confirmed_compared_and_corrects_the_job(demo, open_page):
    page = open_page(demo, "log")
    page.get_by_role("button", name="Take the demonstration’s").click()
    expect(page.locator("h1")).to_contain_text("Check what the columns")
    page.get_by_role("button", name="These columns are right").click()
    expect(page.locator("h1")).to_contain_text("660 ft took 25.3", timeout=MOMENT_MS)
    expect(page.get_by_role("textbox", name="Setup that was ridden")).to_have_value("16 cells")
    page.get_by_label("Begins at, s").fill("3.5")
    expect(page.locator("h1")).to_contain_text("660 ft took 25.8", timeout=MOMENT_MS)
    page.get_by_label("Begins at, s").fill("3.97")
    # A fit asked for now would be of the run that began at 3.5 s.
    expect(page.locator("h1")).to_contain_text("660 ft took 25.3", timeout=MOMENT_MS)
    page.get_by_role("button", name="Fit", exact=True).click()
    take = page.get_by_role("button", name="Open the corrected job here")
    expect(take).to_be_visible(timeout=MOMENT_MS)
    expect(page.locator("h1")).to_contain_text("the corrected job")
    assert violations(page) == []
    take.click()
    expect(page.locator("h1")).to_contain_text("; the job predicts", timeout=MOMENT_MS)
    page.get_by_label("Undo the last change").click()
    expect(page.locator("h1")).to_contain_text("the corrected job", timeout=MOMENT_MS)


def test_a_log_that_cannot_be_read_says_line_and_reason(demo, open_page, tmp_path):
    page = open_page(demo, "log")
    good = "".join(f"{k},{k}\n" for k in range(6))
    log = tmp_path / "ride.csv"
    log.write_text(f"time,speed (km/h)\n{good}" + "x,5\n" * 5, encoding="utf-8")
    page.locator("#log-open input[type=file]").set_input_files(log)
    page.get_by_role("button", name="These columns are right").click()
    expect(page.locator("h1")).to_contain_text("cannot be compared")
    expect(page.locator("#page-answer")).to_contain_text("line 8: time")
    # The log is still there: its columns can be chosen anew.
    expect(page.get_by_role("textbox", name="Column of speed")).to_have_value("speed (km/h)")


def test_typed_numbers_are_checked_and_a_coast_down_goes_into_the_job(demo, open_page):
    page = open_page(demo, "agrees", scheme="dark")
    expect(page.locator("h1")).to_contain_text("Type what you read")
    page.get_by_label("Pack under load, V").fill("38")
    # A number that means nothing alone says what it lacks.
    expect(page.locator("#page-answer")).to_contain_text("nothing without the amperes")
    page.get_by_label("at, A").fill("10")
    page.get_by_label("Top speed, km/h").fill("20")
    expect(page.locator("h1")).to_contain_text("likeliest wrong", timeout=MOMENT_MS)
    expect(page.locator("#recheck-said")).to_contain_text("does not agree")
    page.get_by_role("button", name="Take the demonstration’s times").click()
    expect(page.locator("#road-found")).to_contain_text("Drag area")
    usable(page)
    page.get_by_role("button", name="Put it into the job").click()
    expect(page.locator("#road-done")).to_contain_text("Undo, above, takes it back")
