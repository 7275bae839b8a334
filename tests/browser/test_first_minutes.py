"""The tour is shown once and can be skipped; words tell what they mean, by key as well."""

from playwright.sync_api import expect

from curves import load_job
from tests.browser.conftest import until
from tests.browser.test_access import violations

SEEN = """(term) => {
  const box = term.getBoundingClientRect();
  return term.contains(document.elementFromPoint(box.left + 20, box.top + 4));
}"""
"""Whether the top of an element lies behind nothing."""


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


def test_the_tour_leaves_who_opens_a_link_alone(open_page, demo):
    page = open_page(f"{demo}#job=q1YqyUgsUbJSUCrPSC1KVaoFAA", first_visit=True)
    expect(page.get_by_role("status").first).to_contain_text("link")
    expect(page.locator("#tour")).to_be_hidden()


def test_the_tour_can_be_skipped_and_words_explain_themselves(open_page, demo):
    page = open_page(demo, first_visit=True)
    page.get_by_role("button", name="Skip").click()
    expect(page.locator("#tour")).to_be_hidden()
    word = page.get_by_role("button", name="Held at top speed by")
    word.focus()
    page.keyboard.press("Enter")
    window = page.get_by_role("dialog", name="What is this?")
    expect(window.locator("#term-limit")).to_be_focused()
    # Its first line stands below the window's heading, not behind it.
    until(page, f"({SEEN})(document.getElementById('term-limit'))")
    expect(window).to_contain_text("a little more would raise the force")
    assert violations(page) == []
    page.keyboard.press("Escape")
    expect(window).to_be_hidden()


def test_with_every_setup_hidden_the_page_says_what_to_do(open_page, serve):
    job = load_job()
    page = open_page(serve(job.replace("setup", job.tree()["setup"][:1])))
    page.get_by_role("button", name="Hide as delivered in the plots").click()
    page.get_by_role("button", name="Start a new job …").last.click()
    expect(page.get_by_role("dialog", name="A first job")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog", name="A first job")).to_be_hidden()
    expect(page.locator("#page-body .js-plotly-plot")).to_be_hidden()
    assert violations(page) == []
    page.get_by_role("button", name="Show all setups").click()
    expect(page.locator("#page-body .js-plotly-plot")).to_be_visible()
    expect(page.locator("h1")).to_contain_text("as delivered")


def test_escape_closes_the_innermost_first(open_page, demo):
    page = open_page(demo)
    page.get_by_role("button", name="Parts").click()
    form = page.get_by_role("heading", name="Edit pack")
    page.get_by_text("Units", exact=True).click()
    expect(form).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("details.menu[open]")).to_have_count(0)
    expect(form).to_be_visible()
    choice = page.get_by_role("textbox", name="Part to edit")
    choice.click()
    expect(page.get_by_role("option", name="Goals")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.get_by_role("option", name="Goals")).to_be_hidden()
    # The server would have closed it by then.
    page.wait_for_timeout(1000)
    expect(form).to_be_visible()
    page.keyboard.press("Escape")
    expect(form).to_be_hidden()


def test_labels_and_titles_tell_what_they_mean(open_page, demo):
    page = open_page(demo)
    window = page.get_by_role("dialog", name="What is this?")
    page.locator(".annotation", has_text="Force at the rim").click()
    expect(window.locator("#term-pin")).to_be_focused()
    page.keyboard.press("Escape")
    expect(window).to_be_hidden()
    page.get_by_role("button", name="Edit tune town").first.click()
    page.get_by_role("complementary").get_by_role("button", name="Power cap").press("Enter")
    expect(window.locator("#term-power-cap")).to_be_focused()
    page.keyboard.press("Escape")
    expect(window).to_be_hidden()
    expect(page.get_by_role("complementary").get_by_label("Power cap W")).to_be_visible()
    assert violations(page) == []


def test_words_of_sentences_and_heads_of_numbers_tell_what_they_mean(open_page, demo):
    page = open_page(demo)
    window = page.get_by_role("dialog", name="What is this?")
    word = page.locator("#page-answer").get_by_role("button", name="back-EMF")
    word.focus()
    page.keyboard.press("Enter")
    expect(window.locator("#term-drive-off")).to_be_focused()
    expect(window).to_contain_text("rpm / Kv")
    page.keyboard.press("Escape")
    expect(window).to_be_hidden()
    page.get_by_role("button", name="The numbers").click()
    page.locator("caption").get_by_role("button", name="Force at the rim").press("Enter")
    expect(window.locator("#term-pin")).to_be_focused()
    page.keyboard.press("Escape")
    expect(window).to_be_hidden()
    head = page.get_by_role("columnheader", name="Speed, km/h").first
    head.get_by_role("button", name="What is this: Speed, way, time").press("Enter")
    expect(window.locator("#term-timed")).to_be_focused()
    assert head.get_attribute("aria-sort") is None
    page.keyboard.press("Escape")
    assert violations(page) == []
