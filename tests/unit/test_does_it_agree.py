"""The page of the re-check and the coast-down without a browser."""

import json

import pytest

from curves import load_job
from curves.measured.logs import demo_coast_text
from curves.measured.readings import bench_tree
from curves.units import Units
from dashboard.answers.setups import compare
from dashboard.pages.recheck import page, road_card
from dashboard.pages.recheck import study as rechecked
from dashboard.state.session import Session, View
from dashboard.widgets import readings
from dashboard.widgets.progress import Task


def words(component):
    """All text of a tree of components."""
    text = json.dumps(component, default=lambda c: c.to_plotly_json(), ensure_ascii=False)
    return text.replace("\\u00a0", " ").replace("\u00a0", " ")


@pytest.fixture(scope="module")
def compared():
    return compare(Session.of(load_job()))


def typed(slot=2, **numbers):
    return View(extra={"recheck": {"slot": slot, "typed": numbers}})


def test_nothing_typed_asks_and_half_a_reading_says_what_it_lacks(compared):
    assert "Type what you read" in words(page.answer(compared, View()))
    view = typed(loaded_v=60.0)
    assert "Volts under load means nothing without the amperes" in words(
        page.answer(compared, view)
    )
    assert rechecked.worked_out(compared, view)
    page.body(compared, view)


def test_numbers_that_agree_and_numbers_that_do_not(compared):
    view = typed(resting_v=67.1)
    assert "Checking" in words(page.answer(compared, view))
    assert not rechecked.worked_out(compared, view)
    rechecked.work(compared, view, Task())
    assert "The number agrees with what is predicted of “16 cells”" in words(
        page.answer(compared, view)
    )
    view = typed(top_speed_kmh=36.0, resting_v=67.1)
    rechecked.work(compared, view, Task())
    answer = words(page.answer(compared, view))
    assert "1 of 2 numbers do not agree" in answer
    assert "likeliest wrong: the " in answer
    body = words(page.body(compared, view))
    assert "does not agree" in body
    assert "The likeliest first" in body


def test_numbers_are_typed_and_read_in_the_units_chosen(compared):
    units = Units.of(["mph", "°F"])
    assert page._number("top_speed_kmh", 20.0, None, units)[0] == pytest.approx(32.18688)
    assert page._number("top_speed_kmh", 20.0, 32.18688, units)[0] == 32.18688
    assert page._number("resting_v", "", 5.0, units)[0] is None
    view = View(extra=typed(top_speed_kmh=32.18688, motor_c=100.0).extra, units=units)
    drawn = words(page.body(compared, view))
    assert "Top speed, mph" in drawn
    assert '"value": 20.0' in drawn
    assert '"value": 212.0' in drawn


def test_times_of_a_coast_down(compared):
    whole = bench_tree(demo_coast_text())
    tree = {name: whole[name] for name in road_card.TABLES}
    view = readings.with_tree(typed(), rechecked.ROAD, tree)
    drawn = words(road_card.found(compared, view))
    assert "Drag area" in drawn
    assert "What its motor drags is taken off" in drawn
    assert "0.629" in drawn
    # The mass is the setup's own where none is typed.
    reading = rechecked.ridden(compared, view)
    assert rechecked.road_tree({}, reading)["coast_bike"]["mass_kg"] == reading.rig.mass_kg
    wrong = readings.put(tree, road_card.TIMES, 0, "to_kmh", 90.0)
    said = words(road_card.found(compared, readings.with_tree(view, rechecked.ROAD, wrong)))
    assert "coast down[1].to kmh" in said
    assert "must be below from_kmh" in said
    assert "Drag area" in said
    none = words(road_card.found(compared, typed()))
    assert "Two timed intervals or more" in none
