"""The answer before the scripts that bring the page to life."""

from playwright.sync_api import expect

from tests.browser.conftest import NO_TOUR


def opened(browser, address, *, before="", scripts=False):
    page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
    page.add_init_script(f"{NO_TOUR};{before}")
    if not scripts:
        page.route("**/*.js*", lambda route: route.abort())
    page.goto(address)
    return page


def test_the_answer_is_there_without_scripts_and_out_of_reach(demo, browser):
    page = opened(browser, demo)
    expect(page.locator("h1")).to_contain_text("13 cells are enough")
    expect(page.locator("table.setups tbody tr")).to_have_count(6)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement === document.body")
    page.context.close()


def test_it_makes_way_for_the_page(demo, open_page):
    page = open_page(demo)
    expect(page.locator("#first-look")).to_have_count(0)
    expect(page.locator("h1")).to_have_count(1)
    expect(page.locator("table.setups")).to_have_count(1)


def test_who_has_a_job_or_units_of_his_own_sees_nobody_elses(demo, browser):
    for before in (
        "localStorage.setItem('rimforce/job-1-2', '{}')",
        "localStorage.setItem('rimforce/view', JSON.stringify({ units: ['mph'] }))",
    ):
        page = opened(browser, demo, before=before)
        expect(page.locator("#first-look")).to_be_hidden()
        page.context.close()
    page = opened(browser, f"{demo}#job=abc")
    expect(page.locator("#first-look")).to_be_hidden()
    page.context.close()
