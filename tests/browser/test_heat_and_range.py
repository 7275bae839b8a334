"""The pages that take a moment: they say so, fill in, follow an edit, and axe finds nothing."""

import pytest
from playwright.sync_api import expect

from tests.browser.test_access import violations

MOMENT_MS = 120_000
"""How long working out may take on a slow and busy machine; it takes seconds on a free one."""


def answered(page, said):
    expect(page.locator("h1")).to_contain_text(said, timeout=MOMENT_MS)


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_the_hill_is_climbed_and_the_map_drawn(demo, open_page, width, scheme):
    page = open_page(demo, "heat", width=width, scheme=scheme)
    answered(page, "before the winding’s limit")
    expect(page.get_by_text("limit, 130 °C")).to_be_visible(timeout=MOMENT_MS)
    expect(page.get_by_text("heat values are invented")).to_be_visible()
    expect(page.locator(".setups .cell", has_text="1.8 to 9.0").first).to_be_visible()
    page.get_by_role("button", name="Improve the motor’s heat values").click()
    expect(page.locator("#heat-improved")).to_contain_text("Give speed, grade, minutes")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert violations(page) == []


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_the_ride_is_typed_in_rows(demo, open_page, width, scheme):
    page = open_page(demo, "range", width=width, scheme=scheme)
    answered(page, "At 25 km/h")
    table = page.locator("#ride-out table")
    expect(table).to_be_visible(timeout=MOMENT_MS)
    before = table.inner_text()
    page.get_by_role("button", name="Add a stretch").click()
    expect(page.get_by_label("Speed, km/h, stretch 4")).to_be_visible()
    expect(table).not_to_have_text(before, timeout=MOMENT_MS)
    page.get_by_role("button", name="Remove stretch 1").click()
    expect(page.get_by_label("Speed, km/h, stretch 4")).to_have_count(0)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert violations(page) == []


def test_another_speed_is_asked_and_units_change(demo, open_page):
    page = open_page(demo, "range")
    answered(page, "At 25 km/h")
    page.get_by_label("Steady speed, km/h").fill("20")
    expect(page.locator("h1")).to_contain_text("At 20 km/h", timeout=MOMENT_MS)
    page.get_by_text("Units", exact=True).click()
    page.get_by_text("mph", exact=True).click()
    expect(page.get_by_label("Speed, mph, stretch 1")).to_have_value("15.53")
    expect(page.locator("h1")).to_contain_text("At 12 mph", timeout=MOMENT_MS)
