"""The tour is shown once and can be skipped; words tell what they mean, by key as well."""

from playwright.sync_api import expect

from tests.browser.test_access import violations


def test_the_tour_is_shown_once(open_page, demo):
    page = open_page(demo, first_visit=True)
    tour = page.get_by_role("region", name="First steps")
    for place in range(1, 5):
        expect(tour).to_contain_text(f"{place} of 4")
        assert page.locator(".tour-target").count() == 1
        if place == 1:
            assert violations(page) == []
        tour.get_by_role("button", name="Done" if place == 4 else "Next").click()
    expect(tour).to_be_hidden()
    page.reload()
    page.wait_for_selector(".js-plotly-plot .barlayer .point")
    expect(tour).to_be_hidden()


def test_the_tour_can_be_skipped_and_words_explain_themselves(open_page, demo):
    page = open_page(demo, first_visit=True)
    page.get_by_role("button", name="Skip").click()
    expect(page.locator("#tour")).to_be_hidden()
    word = page.get_by_role("button", name="Held at top speed by")
    word.focus()
    page.keyboard.press("Enter")
    window = page.get_by_role("dialog", name="What is this?")
    expect(window.locator("#term-limit")).to_be_focused()
    expect(window).to_contain_text("a little more would raise the force")
    assert violations(page) == []
    page.keyboard.press("Escape")
    expect(window).to_be_hidden()
