"""The pages of the studies in a browser: they fill in, stay usable, and axe finds nothing."""

from urllib.parse import urljoin

import pytest
from playwright.sync_api import expect

from tests.browser.test_access import violations

MOMENT_MS = 120_000
"""How long a study may take on a slow and busy machine; it takes seconds on a free one."""
PAGES = {
    "cells": "more cells stop helping top speed at 13",
    "weakening": "field weakening raises top speed",
    "gearing": "the fastest reduction is 0.82",
    "any-two": "top speed goes from",
    "weakest": "the weakest link is the controller, phase side",
    "sure": "nine times in ten",
}
"""Answers to expect, by address."""


@pytest.mark.parametrize(("width", "scheme"), [(1280, "dark")])
def test_every_study_answers_and_axe_finds_nothing(demo, open_page, width, scheme):
    page = open_page(demo, width=width, scheme=scheme)
    for path, said in PAGES.items():
        page.goto(urljoin(demo, path))
        expect(page.locator("h1")).to_contain_text(said, timeout=MOMENT_MS)
        expect(page.locator(".working:visible")).to_have_count(0)
        expect(page.locator("#page-body .js-plotly-plot").first).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
        assert violations(page) == [], path


def test_a_setup_found_is_one_click_from_the_job(demo, open_page):
    page = open_page(demo)
    page.get_by_role("link", name="Which setup?").click()
    expect(page.locator("h1")).to_contain_text("Press Search")
    page.get_by_label("Seed").fill("3")
    page.get_by_role("button", name="Search", exact=True).click()
    expect(page.locator("h1")).to_contain_text("meet every goal", timeout=MOMENT_MS)
    page.get_by_role("button", name="Add to the job").first.click()
    expect(page.get_by_label("Name of as delivered (2)")).to_be_visible()
    assert violations(page) == []


def test_a_hidden_setup_can_be_looked_at_without_being_shown(open_page, demo):
    page = open_page(demo)
    page.goto(f"{demo}gearing")
    expect(page.locator("h1")).to_contain_text("“as delivered”: the fastest")
    page.get_by_label("Hide 16 cells in the plots").click()
    page.get_by_role("textbox", name="Setup looked at").click()
    page.get_by_role("option", name="16 cells (hidden)").click()
    expect(page.locator("h1")).to_contain_text("“16 cells”: the fastest")
    expect(page.get_by_label("Show 16 cells in the plots")).to_be_visible()
    page.get_by_label("Show 16 cells in the plots").click()
    expect(page.get_by_role("textbox", name="Setup looked at")).to_have_value("16 cells")


def test_weakening_that_pays_nearly_empty_is_one_click_from_the_job(open_page, demo):
    page = open_page(demo)
    page.goto(f"{demo}weakening")
    expect(page.locator("h1")).to_contain_text(PAGES["weakening"], timeout=MOMENT_MS)
    page.get_by_role("textbox", name="Setup looked at").click()
    page.get_by_role("option", name="13 cells", exact=True).click()
    expect(page.locator("h1")).to_contain_text("but with a nearly empty one", timeout=MOMENT_MS)
    expect(page.locator(".answer")).to_contain_text("raise it in small steps")
    page.get_by_role("button", name="29 A of weakening: nearly empty from 37.2 to 40.5").click()
    expect(page.get_by_label("Name of 13 cells, 29 A weakening")).to_be_visible()
    assert violations(page) == []


def test_the_setup_looked_at_is_chosen_to_and_fro_and_kept(demo, open_page):
    page = open_page(demo)
    page.goto(f"{demo}cells")
    about = page.get_by_role("textbox", name="Setup looked at")
    for name in ("16 cells", "as delivered", "13 cells"):
        about.click()
        page.get_by_role("option", name=name, exact=True).click()
        expect(page.locator("h1")).to_contain_text(f"“{name}”")
        expect(page.locator("h1")).not_to_contain_text("…")
        expect(about).to_have_value(name)
    page.reload()
    expect(about).to_have_value("13 cells")
    expect(page.locator("h1")).to_contain_text("“13 cells”")
