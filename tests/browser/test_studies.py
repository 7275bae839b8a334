"""What is done with the answers of the studies, in a browser."""

from playwright.sync_api import expect

from tests.browser.conftest import until
from tests.browser.test_access import ANSWERS, violations

MOMENT_MS = 120_000
"""How long a study may take on a slow and busy machine; it takes seconds on a free one."""


def test_a_setup_found_is_one_click_from_the_job(demo, open_page):
    page = open_page(demo)
    page.get_by_role("link", name="Which setup?").click()
    expect(page.locator("h1")).to_contain_text("Press Search")
    page.get_by_label("Seed").fill("3")
    page.get_by_label("Seed").press("Tab")
    # A search asked for before the seed is kept looks with the one before.
    until(page, "(localStorage.getItem('rimforce/view') || '').includes('\"seed\":3')")
    page.get_by_role("button", name="Search", exact=True).click()
    expect(page.locator("h1")).to_contain_text("meet every goal", timeout=MOMENT_MS)
    page.get_by_role("button", name="Add to the job").first.click()
    expect(page.get_by_label("Name of as delivered (2)")).to_be_visible()
    assert violations(page) == []


def test_a_hidden_setup_can_be_looked_at_without_being_shown(open_page, demo):
    page = open_page(demo, "gearing")
    expect(page.locator("h1")).to_contain_text("“as delivered”: the fastest")
    page.get_by_label("Hide 16 cells in the plots").click()
    page.get_by_role("textbox", name="Setup looked at").click()
    page.get_by_role("option", name="16 cells (hidden)").click()
    expect(page.locator("h1")).to_contain_text("“16 cells”: the fastest")
    expect(page.get_by_label("Show 16 cells in the plots")).to_be_visible()
    page.get_by_label("Show 16 cells in the plots").click()
    expect(page.get_by_role("textbox", name="Setup looked at")).to_have_value("16 cells")


def test_weakening_that_pays_nearly_empty_is_one_click_from_the_job(open_page, demo):
    page = open_page(demo, "weakening")
    expect(page.locator("h1")).to_contain_text(ANSWERS["/weakening"], timeout=MOMENT_MS)
    page.get_by_role("textbox", name="Setup looked at").click()
    page.get_by_role("option", name="13 cells", exact=True).click()
    expect(page.locator("h1")).to_contain_text("but with a nearly empty one", timeout=MOMENT_MS)
    expect(page.locator(".answer")).to_contain_text("raise it in small steps")
    page.get_by_role("button", name="29 A of weakening: nearly empty from 37.2 to 40.5").click()
    expect(page.get_by_label("Name of 13 cells, 29 A weakening")).to_be_visible()
    assert violations(page) == []


def test_the_setup_looked_at_is_chosen_to_and_fro_and_kept(demo, open_page):
    page = open_page(demo, "cells")
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
