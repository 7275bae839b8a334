"""What is no number is refused and said, never turned into another; long names widen no page."""

from urllib.parse import urljoin

import pytest
from playwright.sync_api import expect

from curves import load_job
from curves.parts.job import build_job
from curves.report.page import report

LONG = "W" * 1900
WIDTH = "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
WIDEST = """Math.max(...[...document.querySelectorAll('body *')]
  .filter((e) => !e.closest('#js-plotly-tester'))
  .map((e) => e.getBoundingClientRect().width))"""
BEARABLE = 3000
"""Wide tables scroll in their card; a name of 1,900 letters alone would be 13,000 px."""


def long_job():
    """Two setups; title, setup and every part go by names of 1,900 letters without a space."""
    tree = load_job().tree()
    tree["setup"] = tree["setup"][:2]
    first = tree["setup"][0]
    for kind in ("motor", "controller", "pack", "tune", "bike"):
        old = first[kind]
        tree[kind][LONG] = tree[kind].pop(old)
        for setup in tree["setup"]:
            setup[kind] = LONG if setup[kind] == old else setup[kind]
    first["name"] = tree["title"] = tree["compare_to"] = LONG
    return build_job(tree, name="long")


@pytest.fixture(scope="module")
def long(serve) -> str:
    return serve(long_job())


@pytest.mark.parametrize("width", [1280, 390])
def test_long_names_widen_no_page(long, open_page, width):
    page = open_page(long, "weakest", width=width)
    for path in ("weakest", "gearing", "runs", ""):
        if path != "weakest":
            page.goto(urljoin(long, path))
        expect(page.locator("#page-answer h1")).to_be_visible()
        expect(page.locator(".setups td").first).to_be_visible()
        whole, seen = page.evaluate(WIDTH)
        assert whole <= seen, path
        assert page.evaluate(WIDEST) < BEARABLE, path
    page.locator("[aria-label^='Edit pack']").first.click()
    expect(page.locator(".form.open")).to_be_visible()
    whole, seen = page.evaluate(WIDTH)
    assert whole <= seen


@pytest.mark.parametrize("width", [1280, 390])
def test_long_names_widen_no_report(browser, width):
    context = browser.new_context(viewport={"width": width, "height": 900})
    page = context.new_page()
    page.set_content(report(long_job()))
    whole, seen = page.evaluate(WIDTH)
    assert whole <= seen
    assert page.evaluate(WIDEST) < BEARABLE
    context.close()


def test_what_is_no_number_is_refused_and_said(demo, open_page):
    page = open_page(demo)
    page.locator("[aria-label='Edit tune town']").first.click()
    field = page.get_by_label("Pack current", exact=False).first
    for typed in ("1e300", "abc", "7,5", "12−3"):
        before = field.input_value()
        field.focus()
        page.keyboard.press("End")
        page.keyboard.type(typed)
        note = page.locator(".form .wrong")
        expect(note).to_contain_text("Digits, a sign and a point only")
        plain = typed[: next(k for k, c in enumerate(typed) if not c.isdigit())]
        assert field.input_value() == before + plain
        page.keyboard.press("Tab")
        expect(note).to_be_visible()
        field.fill("30")
        expect(note).to_have_count(0)
        expect(field).to_have_value("30")
