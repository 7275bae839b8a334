"""The pages of what was measured: bench readings, logs, a re-check; and how each goes wrong."""

from urllib.parse import urljoin

import pytest
from playwright.sync_api import expect

from tests.browser.test_access import violations

MOMENT_MS = 120_000
"""How long working out may take on a slow and busy machine; it takes seconds on a free one."""


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_a_motor_comes_out_of_bench_readings(demo, open_page, width, scheme):
    page = open_page(demo, width=width, scheme=scheme)
    page.goto(urljoin(demo, "motor"))
    expect(page.locator("h1")).to_contain_text("type the readings below")
    page.get_by_role("button", name="Take the demonstration’s").click()
    expect(page.locator("h1")).to_contain_text("20 pole pairs")
    page.get_by_role("button", name="Winding resistance").click()
    cell = page.get_by_label("Amperes, resistance 1", exact=True)
    expect(cell).to_have_value("2.984")
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
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
    page = open_page(demo)
    page.goto(urljoin(demo, "motor"))
    page.get_by_role("button", name="Take the demonstration’s").click()
    expect(page.locator("h1")).to_contain_text("20 pole pairs")
    wrong = tmp_path / "wrong.toml"
    wrong.write_text('format = "rimforce-bench-1"\nresistance = [ { pair = \n', encoding="utf-8")
    page.locator("#bench-open input[type=file]").set_input_files(wrong)
    expect(page.locator("#message")).to_contain_text("line 2")
    expect(page.locator("h1")).to_contain_text("20 pole pairs")
