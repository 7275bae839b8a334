"""Everyone can use it: axe finds nothing, in both themes, wide and narrow; the keyboard reaches."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

SIZES = (1280, 768, 390)


def violations(page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [f"{v['id']}: {n['html'][:160]}" for v in found for n in v["nodes"]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", SIZES)
def test_axe_finds_nothing(demo, open_page, scheme, width):
    page = open_page(demo, width=width, scheme=scheme)
    assert page.evaluate("document.documentElement.dataset.mantineColorScheme") == scheme
    assert violations(page) == []
    page.get_by_label("Edit pack cells-13").first.click()
    expect(page.get_by_label("Cells in series")).to_be_visible()
    assert violations(page) == []


@pytest.mark.parametrize("width", SIZES)
def test_nothing_is_wider_than_the_window(demo, open_page, width):
    page = open_page(demo, width=width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_theme_turns_and_stays(demo, open_page):
    page = open_page(demo, scheme="light")
    page.get_by_label("Light or dark").click()
    theme = "document.documentElement.dataset.mantineColorScheme"
    assert page.evaluate(theme) == "dark"
    ink = (
        "getComputedStyle(document.querySelector('.js-plotly-plot .gtitle, .annotation text')).fill"
    )
    assert page.evaluate(ink) == "rgb(236, 234, 228)"
    page.reload()
    page.wait_for_selector(".js-plotly-plot .barlayer .point")
    assert page.evaluate(theme) == "dark"


def test_the_keyboard_edits_a_pack(demo, open_page):
    page = open_page(demo)
    page.get_by_label("Edit pack cells-13").first.focus()
    page.keyboard.press("Enter")
    series = page.get_by_label("Cells in series")
    expect(series).to_be_visible()
    series.focus()
    page.keyboard.press("ArrowUp")
    expect(series).to_have_value("14")
    expect(page.locator("h1")).to_contain_text("14 cells are enough")
    page.keyboard.press("Escape")
    expect(page.locator(".form.open")).to_have_count(0)
