"""No number that a user may give decides how much is worked out, drawn or written."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves import load_job
from curves.measured import rolling
from curves.measured.splits import _smooth
from curves.numerics.counts import evenly, round_step, whole
from curves.report.page import report
from dashboard.answers.setups import compare
from dashboard.pages.which_pack import figure as panels
from dashboard.pages.which_pack import tables
from dashboard.shell.registry import page_at
from dashboard.state.session import Session, View

PLAIN = {"allow_nan": False, "allow_infinity": False}


@given(st.floats(1e-9, 1e12, **PLAIN), st.integers(1, 1000))
def test_a_round_step_goes_into_a_length_that_often_and_no_shorter_one_does(length, most):
    step = round_step(length, most)
    assert length / step <= most * (1 + 1e-9)
    shorter = step / 2.5 if f"{step:e}".startswith("5") else step / 2
    assert length / shorter > most * (1 - 1e-9)
    assert f"{step:.6e}"[0] in "125"


@given(st.floats(-1e9, 1e9), st.floats(-1e12, 1e12), st.floats(1e-9, 1e9), st.integers(1, 500))
def test_even_steps_are_bounded_whatever_their_ends(first, last, step, most):
    found = evenly(first, last, step, most)
    assert found.size <= most + 1
    assert (found.size == 0) == (last < first)
    if found.size:
        assert found[0] == first
        assert found[-1] <= last + 1e-6 * max(step, (last - first) / most)
    if last >= first and (last - first) / step <= most:
        assert found.size == int((last - first) / step + 1e-9) + 1


@pytest.mark.parametrize("end", [np.nan, np.inf])
def test_no_steps_to_what_is_no_number(end):
    assert evenly(0.0, end, 1.0, 10).size == 0
    assert round_step(end, 10) == 1.0


def test_whole_numbers_keep_both_ends():
    assert whole(6, 26, 61) == list(range(6, 27))
    thinned = whole(100, 400, 61)
    assert (thinned[0], thinned[-1], len(thinned)) == (100, 400, 61)
    assert thinned == sorted(set(thinned))


FAST = {
    "motor.hub.gear_ratio": 1e-9,
    "motor.hub.kv_rpm_per_v": 1e9,
    "bike.cargo.final_drive_ratio": 1e-9,
}


@pytest.fixture(scope="module", params=FAST)
def fast(request):
    """A legal bike whose line over road speed ends at millions of km/h."""
    return load_job().replace(request.param, FAST[request.param])


@pytest.mark.parametrize("path", ["/", "/range", "/cells"])
def test_a_page_of_a_bike_that_goes_endlessly_fast(fast, path):
    compared, page = compare(Session.of(fast)), page_at(path)
    page.answer(compared, View())
    page.columns(compared, View())
    json.dumps(page.body(compared, View()), default=lambda x: x.to_plotly_json())


def test_its_tables_have_a_bounded_number_of_lines(fast):
    shown = compare(Session.of(fast)).shown
    panel = tables.lines_of(shown)[0]
    for unit in ("km/h", "mph"):
        assert len(tables.by_speed(shown, panel, unit)[1]) <= tables.MOST_ROWS + 1
    found = json.loads(tables.as_json(shown))["setups"][0]["speed_kmh"]
    assert len(found) <= tables.MOST_SPEEDS + 1


def test_its_report(fast):
    assert len(report(fast)) < 5_000_000


@pytest.mark.parametrize("width", [300, 1200])
def test_an_axis_has_no_more_numbers_than_there_is_room_for(fast, width):
    frame = panels.frame(compare(Session.of(fast)).shown, width, "km/h")
    assert frame.last / frame.step <= frame.across / 46 + 1e-9


def test_a_coast_of_a_year_takes_a_bounded_number_of_steps(monkeypatch):
    asked, slows = 0, rolling.road_load

    def counted(*given):
        nonlocal asked
        asked += 1
        assert asked < 200, "each step asks for the road load five times"
        return slows(*given)

    monkeypatch.setattr(rolling, "MOST_STEPS", 30)
    monkeypatch.setattr(rolling, "road_load", counted)
    rolled = rolling.Rolled(100.0, 0.04, 1.2, (0.0, 0.0))
    sets = np.array([[5.0, 0.0, 0.2, 0.0, 0.0]])
    speed = rolling.coasting_speed(sets, np.array([8.0]), rolled, 1.0, np.array([0.0, 3e4]))
    assert speed.tolist() == [[8.0, 0.0]]


def test_a_run_of_a_year_is_smoothed_with_as_many_knots_as_its_samples_bear():
    time = np.linspace(0.0, 3e9, 40)
    fitted, _ = _smooth(time, np.linspace(0.0, 12.0, 40), 0.0)
    assert np.isfinite(fitted).all()
