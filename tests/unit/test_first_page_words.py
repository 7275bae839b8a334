"""What the first page says beside the top speeds: a drive that cuts out, and what to change."""

from dataclasses import replace

import pytest

from curves import load_job
from dashboard.answers.setups import compare
from dashboard.pages.which_pack import page as which_pack
from dashboard.state.session import Session, View
from dashboard.widgets.drive_off import drive_off
from tests.unit.component_tree import words


@pytest.fixture(scope="module")
def compared():
    return compare(Session.of(load_job()))


def with_speeds(reading, **speeds):
    return replace(reading, curve=replace(reading.curve, **speeds))


def test_both_speeds_are_told_with_the_first_setup_they_concern(compared):
    said = words(drive_off(compared.shown, "km/h")).replace("\u00a0", " ")
    first = min(compared.shown, key=lambda r: r.curve.brakes)
    assert f"above {first.curve.brakes:.0f} km/h with “{first.name}”, later with the others" in said
    # One controller, one motor: one speed for all.
    assert f"rated volts above {first.curve.harms:.0f} km/h." in said
    assert said.startswith("notice")


def test_setups_that_can_go_that_fast_are_named(compared):
    fast = [with_speeds(r, top=r.curve.brakes + 1) for r in compared.shown]
    said = words(drive_off(fast, "mph")).replace("\u00a0", " ")
    assert said.startswith("warning")
    assert said.endswith("“as delivered”, “13 cells” and 4 more can go that fast.")
    assert "mph" in said


def test_nothing_is_said_where_nothing_can_happen(compared):
    none = [with_speeds(r, brakes=float("nan"), harms=float("nan")) for r in compared.shown]
    assert drive_off(none, "km/h") is None
    assert drive_off((), "km/h") is None


def test_the_page_says_what_buys_speed_and_what_to_measure(compared):
    said = words(which_pack.answer(compared, View()))
    assert "“as delivered”: One more cell in series here buys" in said
    assert "“as delivered”: Measure the" in said
