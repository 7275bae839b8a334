"""Pages told of a setup that cannot start, of fields out of their range, and opened again."""

from urllib.parse import urljoin

import pytest
from playwright.sync_api import expect

from curves import load_job
from curves.parts.job import build_job
from tests.browser.conftest import until
from tests.browser.test_studies import MOMENT_MS

STUCK = "too weak"
SAID = {
    "cells": "“too weak”: it cannot start with 5 to 20 cells in series",
    "weakening": "“too weak”: it cannot start, whatever its field weakening",
    "gearing": "gives no start",
    "any-two": "“too weak” has no top speed anywhere in these ranges",
    "sure": "“too weak” cannot start, however its inputs lie",
    "runs": "“too weak” cannot start here",
    "heat": "“too weak” cannot start on it",
    "range": "“too weak” does not hold that speed",
    "weakest": "the weakest link",
    "report": "“13 cells” is fastest",
}
"""What a page says of it, by address."""


@pytest.fixture(scope="module")
def weak(serve) -> str:
    """A job whose first setup cannot start."""
    tree = load_job().tree()
    tree["tune"]["weak"] = {**tree["tune"]["town"], "phase_current_a": 4.0}
    first, second = tree["setup"][:2]
    tree["setup"] = [{**first, "name": STUCK, "tune": "weak"}, second]
    tree["compare_to"] = STUCK
    return serve(build_job(tree, name="weak"))


@pytest.mark.parametrize("path", SAID)
def test_a_setup_that_cannot_start_is_told_of(weak, open_page, path):
    page = open_page(weak, path)
    expect(page.locator("#page-answer")).to_contain_text(SAID[path], timeout=MOMENT_MS)
    expect(page.locator(".working:visible")).to_have_count(0, timeout=MOMENT_MS)
    answer = page.locator("#page-answer").inner_text().lower()
    assert "nan" not in answer.split()
    assert "add a setup" not in answer
    if path not in ("weakest", "range"):
        expect(page.locator(".setups .cell", has_text="cannot start").first).to_be_visible()


def test_a_search_from_it_finds_what_starts_or_says_how_near(weak, open_page):
    page = open_page(weak, "search")
    page.get_by_role("textbox", name="Most setups tried").fill("60")
    page.get_by_role("button", name="Search", exact=True).click()
    expect(page.locator("h1")).to_contain_text("None meets every goal", timeout=MOMENT_MS)


def field(page, name):
    return page.get_by_role("textbox", name=name)


def test_a_range_the_wrong_way_round_is_told_and_put_right(demo, open_page):
    page = open_page(demo, "any-two")
    expect(page.locator("h1")).to_contain_text("top speed goes from", timeout=MOMENT_MS)
    low = field(page, "cells in series, from")
    low.fill("30")
    low.press("Tab")
    expect(page.locator("h1")).to_contain_text("range")
    low.fill("5")
    low.press("Tab")
    expect(page.locator("h1")).to_contain_text("top speed goes from", timeout=MOMENT_MS)


def test_a_search_without_inputs_asks_for_one(demo, open_page):
    page = open_page(demo, "search")
    expect(page.locator("h1")).to_contain_text("Press Search")
    varied = field(page, "What varies")
    for _ in range(3):
        varied.press("Backspace")
    expect(page.locator("h1")).to_contain_text("Choose at least one input to vary")


def test_what_is_no_distance_is_not_timed(demo, open_page):
    page = open_page(demo, "runs")
    expect(page.locator("ul.more")).to_contain_text("660 ft")
    distances = field(page, "Distances timed")
    for typed in ("soon", "-5 m"):
        distances.fill(typed)
        distances.press("Enter")
    distances.fill("200 m")
    distances.press("Enter")
    expect(page.locator("ul.more")).to_contain_text("quickest to 200 m")
    heads = page.locator(".setups thead")
    expect(heads).to_contain_text("660 ft")
    expect(heads).not_to_contain_text("soon")
    expect(heads).not_to_contain_text("-5")


def test_a_speed_nobody_holds_and_a_ride_too_far_are_told(demo, open_page):
    page = open_page(demo, "range")
    expect(page.locator("h1")).to_contain_text("At 25 km/h", timeout=MOMENT_MS)
    field(page, "Distance, km, stretch 1").fill("900")
    expect(page.locator("#ride-out")).to_contain_text("does not arrive", timeout=MOMENT_MS)
    field(page, "Steady speed").fill("90")
    expect(page.locator("h1")).to_contain_text("90 km/h", timeout=MOMENT_MS)
    expect(page.locator(".setups .cell", has_text="not held").first).to_be_visible()


def test_readings_that_say_nothing_are_told_and_kept(demo, open_page):
    page = open_page(demo, "heat")
    page.get_by_role("button", name="Improve the motor’s heat values").click()
    expect(page.locator("#heat-improved")).to_contain_text("Give speed, grade, minutes")
    page.goto(urljoin(demo, "agrees"))
    top = field(page, "Top speed, km/h")
    top.fill("-5")
    expect(page.locator(".mantine-InputWrapper-error")).to_contain_text("; it is left out")
    expect(top).to_have_value("-5")


@pytest.mark.parametrize(
    ("path", "name", "typed"),
    [
        ("agrees", "Top speed, km/h", "33"),
        ("weakening", "An ampere should buy", "0.3"),
        ("report", "Workshop", "Wheel & Wire"),
    ],
)
def test_what_was_typed_is_there_when_the_page_is_opened_again(weak, open_page, path, name, typed):
    page = open_page(weak, path)
    field(page, name).fill(typed)
    field(page, name).press("Tab")
    until(page, f"localStorage.getItem('rimforce/view').includes('{typed}')")
    page.reload()
    expect(field(page, name)).to_have_value(typed)


DAMAGED = [
    '{"extra":null,"units":null,"pinned_kmh":"x","grades":7,"width":1e400}',
    '{"extra":{"range":[],"panels":null},"units":[10e40,null],"pinned_kmh":[null,{}]}',
    '"text"',
]


def test_a_page_comes_up_whatever_became_of_the_browsers_memory(demo, open_page):
    page = open_page(demo)
    expect(page.locator("h1")).to_contain_text("cells are enough")
    for view in DAMAGED:
        page.evaluate(
            """(view) => {
              localStorage.setItem("rimforce/view", view);
              for (const name of Object.keys(localStorage)) {
                if (name.startsWith("rimforce/job-")) localStorage.setItem(name, '{"tree":null}');
              }
            }""",
            view,
        )
        page.reload()
        expect(page.locator("#first-look")).to_have_count(0)
        expect(page.locator("h1")).to_contain_text("cells are enough")
        page.wait_for_selector(".js-plotly-plot .barlayer .point")
