"""Everyone can use it: axe finds nothing, in both themes, wide and narrow; the keyboard reaches."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from dashboard.shell.registry import pages
from tests.browser.conftest import until

SIZES = (1280, 768, 390)
MOMENT_MS = 120_000
"""How long a page's study may take on a slow and busy machine."""


ANSWERS = {
    "/cells": "more cells stop helping top speed at 13",
    "/weakening": "field weakening raises top speed",
    "/gearing": "the fastest reduction is 0.82",
    "/any-two": "top speed goes from",
    "/weakest": "the weakest link is the controller, phase side",
    "/sure": "nine times in ten",
}
"""What a study says once it is worked out, by address."""
FAULTS = {"resultTypes": ["violations"], "preload": False}
"""Nothing of what axe finds in order; no style sheet comes from elsewhere."""
COLOURS = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}
"""What a theme can change."""


def violations(page, rules=None) -> list[str]:
    found = Axe().run(page, options=FAULTS | (rules or {})).response["violations"]
    return [f"{v['id']}: {n['html'][:160]}" for v in found for n in v["nodes"]]


@pytest.mark.parametrize("path", [page.path for page in pages()])
def test_everyone_can_use_every_page(demo, open_page, path):
    """Each page once: three widths, both themes, nothing wider than the window; studies answer."""
    page = open_page(demo, path)
    expect(page.locator("h1")).to_be_visible()
    # A colour on its way from one theme to the other is neither's.
    page.emulate_media(reduced_motion="reduce")
    # Until what takes a moment is worked out.
    if path in ANSWERS:
        expect(page.locator("h1")).to_contain_text(ANSWERS[path], timeout=MOMENT_MS)
        expect(page.locator("#page-body .js-plotly-plot").first).to_be_visible()
    expect(page.locator(".working:visible")).to_have_count(0, timeout=MOMENT_MS)
    found = {}
    for width in SIZES:
        page.set_viewport_size({"width": width, "height": 900})
        until(page, f"document.documentElement.scrollWidth <= {width}")
        for scheme, rules in (("light", None), ("dark", COLOURS)):
            page.evaluate(f"document.documentElement.dataset.mantineColorScheme = '{scheme}'")
            if wrong := violations(page, rules):
                found[scheme, width] = wrong
    assert found == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everyone_can_use_the_form(demo, open_page, scheme):
    page = open_page(demo, scheme=scheme, width=390)
    assert page.evaluate("document.documentElement.dataset.mantineColorScheme") == scheme
    page.get_by_label("Edit pack cells-13").first.click()
    expect(page.get_by_label("Cells in series")).to_be_visible()
    assert violations(page) == []
    page.get_by_role("button", name="How sure are these numbers?").click()
    expect(page.get_by_label("Uncertainty of Mass, percent")).to_be_visible()
    assert violations(page) == []


def test_nothing_moves_where_less_motion_is_asked_for(demo, open_page):
    page = open_page(demo)
    page.emulate_media(reduced_motion="reduce")
    moving = "[...document.querySelectorAll('*')].filter((x) => x.getAnimations().length).length"
    page.get_by_role("button", name="The numbers").click()
    assert page.evaluate(moving) == 0


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


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_on_a_phone_the_head_takes_two_lines_and_nothing_is_lost(demo, open_page, scheme):
    page = open_page(demo, width=390, height=844, scheme=scheme)
    header = page.locator("header.header")
    expect(page.locator("#first-look")).to_have_count(0)
    assert header.bounding_box()["height"] <= 80
    expect(header.get_by_text("Courier cargo bike: which pack?")).to_be_visible()
    expect(header.locator(".badge")).to_contain_text("the motor, packs and bike are invented")
    small = (
        "[...document.querySelectorAll('.header :is(a, button, summary)')]"
        ".map((x) => [x.textContent, x.getBoundingClientRect()])"
        ".filter(([, box]) => box.width && Math.min(box.width, box.height) < 24)"
    )
    assert page.evaluate(small) == []
    folded = page.get_by_role("button", name="Which pack?", exact=True)
    folded.click()
    expect(folded).to_have_attribute("aria-expanded", "true")
    assert page.evaluate(small) == []
    assert violations(page) == []
    # A group shows its pages; a page closes them.
    page.get_by_role("link", name="Ride", exact=True).click()
    page.get_by_role("link", name="How far?", exact=True).click()
    expect(page.get_by_role("button", name="How far?", exact=True)).to_have_attribute(
        "aria-expanded", "false"
    )
    expect(page.get_by_role("link", name="How far?", exact=True)).to_be_hidden()
    expect(page.locator("h1")).to_contain_text("km")
    assert header.bounding_box()["height"] <= 80
