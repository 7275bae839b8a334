"""The page of timed runs: what is typed, what is drawn, and what its sentences say."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import plotly.graph_objects as go
import pytest

from curves import load_job
from curves.motion.runs import power_ceiling, timed_runs
from curves.parts.job import build_job
from curves.setups.stack import stack
from curves.units import FOOT, MPH
from dashboard.answers.setups import compare
from dashboard.base import quantities
from dashboard.pages.runs import figure_holds as holds
from dashboard.pages.runs import figure_runs as drawn
from dashboard.pages.runs import page as how_quick
from dashboard.pages.runs.study import Asked, ridden, ridden_freely
from dashboard.state.session import Session, View

NAMES = ("as delivered", "20 cells, cap lifted", "too weak")


@pytest.fixture(scope="module")
def compared():
    """A slow setup, a quick one, and one that cannot start."""
    tree = load_job().tree()
    tree["setup"] = [s for s in tree["setup"] if s["name"] in NAMES]
    tree["tune"]["weak"] = {"phase_current_a": 1.0, "pack_current_a": 1.0}
    tree["setup"].append({**tree["setup"][0], "name": NAMES[2], "tune": "weak"})
    return compare(Session.of(build_job(tree, name="job")))


def asking(**asked):
    return View(extra={"runs": replace(Asked(), **asked).kept()})


def spoken(compared, view):
    return str(how_quick.answer(compared, view)).replace(r"\xa0", " ")


def test_typed_splits_carry_their_unit():
    units = {"": 1.0, "ft": 1.0, "m": 1 / FOOT}
    said = quantities.distance_said

    def read(texts, before=()):
        return quantities.all_typed(texts, before, said, units, 5280.0, 5)[0]

    assert read(["60 ft", "660", "100 m"]) == pytest.approx((60.0, 100 / FOOT, 660.0))
    assert read(["-3", "20 mph", "many"]) == ()
    # What was asked before comes back to its last digit.
    third = 100 / 3
    assert read([said(third)], (third,)) == (third,)
    assert [said(60.0), said(100 / FOOT)] == ["60 ft", "100 m"]
    assert [quantities.speed_said(x) for x in (25.0, 32.18688)] == ["25 km/h", "20 mph"]


def test_one_that_cannot_start_and_one_that_never_gets_there_are_told(compared):
    said = spoken(compared, View())
    assert "“too weak” cannot start here." in said
    assert "“as delivered” never gets to 30 mph (48 km/h)." in said


def test_same_pack_power_shows_what_is_left_of_the_difference(compared):
    two = replace(compared, readings=compared.readings[:2])
    said = spoken(two, asking(equal=True))
    rigs = [r.rig for r in two.readings]
    assert f"{power_ceiling(stack(rigs).batch()).min():,.0f} W" in said
    own, same = ridden_freely(two, View()), ridden(two, asking(equal=True))
    left, before = (abs(x[0][1].speed_time[0] - x[1][1].speed_time[0]) for x in (same, own))
    assert left < before
    assert (
        f"are {left:.2f} s apart to 20 mph (32 km/h); with their own tunes {before:.2f} s" in said
    )
    assert "the same 500 W" in spoken(two, asking(equal=True, watts=500.0))


def test_the_run_is_drawn_as_it_was_timed(compared):
    runs = ridden(compared, View())
    for r, run in runs[:2]:
        exact = timed_runs([r.rig]).speed_time[0, 0]
        # Read off straight between points of the line.
        assert np.interp(20 * MPH * 3.6, run.kmh, run.time) == pytest.approx(exact, abs=0.02)
    for made in (
        drawn.over_time(runs, View()),
        drawn.over_way(runs, compared.readings[0], View()),
        drawn.holding_back(runs, View()),
    ):
        go.Figure(made)
    behind = drawn.over_way(runs, compared.readings[0], View())["layout"]["annotations"]
    assert any("Behind “as delivered”" in note["text"] for note in behind)


def test_what_holds_a_run_back_covers_it_without_a_gap(compared):
    runs = ridden(compared, View())
    last = drawn.last_time(runs)
    for _, run in runs[:2]:
        parts = holds.stretches(run, last)
        assert parts[0].start == 0.0
        assert parts[-1].end == last
        assert all(a.end == b.start for a, b in pairwise(parts))
        assert parts[0].words == ("phase current",)
    assert holds.stretches(runs[2][1], last) == []
    head, rows, _ = drawn.numbers_holding_back(runs)
    assert head[-1] == "Held by"
    assert {row[0] for row in rows} == set(NAMES[:2])
