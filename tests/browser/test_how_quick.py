"""The page of timed runs: equal pack power and a distance of one's own, in one page load."""

import pytest
from playwright.sync_api import expect

from tests.browser.test_access import violations


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_equal_power_and_a_split_of_ones_own(demo, open_page, width, scheme):
    page = open_page(demo, "runs", width=width, scheme=scheme)
    expect(page.locator("h1")).to_contain_text("is quickest to 20 mph")
    expect(page.locator("ul.more")).to_contain_text("never get to 30 mph (48 km/h)")
    expect(page.get_by_text("What holds it back")).to_be_visible()
    page.get_by_role("textbox", name="Distances timed").fill("100 m")
    page.keyboard.press("Enter")
    expect(page.locator("ul.more")).to_contain_text("quickest to 100 m")
    page.get_by_label("Same pack power for all").check(force=True)
    expect(page.locator("h1")).to_contain_text("the lowest of their own ceilings")
    page.get_by_label("That power, W").fill("600")
    expect(page.locator("h1")).to_contain_text("Drawing the same 600 W, the setups are")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert violations(page) == []
