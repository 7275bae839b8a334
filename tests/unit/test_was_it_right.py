"""The page of logs without a browser: what is read, compared, fitted, and what is said if not."""

import json
from dataclasses import replace

import numpy as np
import pytest

from curves import load_job
from curves.measured.logs import demo_log
from curves.measured.overlay import rms
from curves.words.overlay import farthest, split_name, verdict
from dashboard.answers.setups import compare
from dashboard.figures.spec import unpacked
from dashboard.pages.log import figure as drawing
from dashboard.pages.log import log_cards, page
from dashboard.pages.log import study as logged
from dashboard.state import uploads
from dashboard.state.session import Session, View
from dashboard.widgets.progress import Task


def words(component):
    """All text of a tree of components."""
    text = json.dumps(component, default=lambda c: c.to_plotly_json(), ensure_ascii=False)
    return text.replace("\\u00a0", " ").replace("\u00a0", " ")


@pytest.fixture(scope="module")
def compared():
    return compare(Session.of(load_job()))


def asked(**changes):
    usual = {"token": logged.DEMO, "name": logged.DEMO_NAME, "sure": True}
    return logged.with_asked(View(), **{**usual, **changes})


def sent(text, name="ride.csv"):
    return {"token": uploads.keep(text.encode(), name), "name": name}


def test_without_a_log_it_asks_for_one(compared):
    assert "Read the log of a run" in words(page.answer(compared, View()))
    assert "Open a log" in words(page.body(compared, View()))


def test_columns_are_proposed_before_anything_is_compared(compared):
    view = asked(sure=False)
    assert "Check what the columns" in words(page.answer(compared, view))
    body = words(page.body(compared, view))
    assert "These columns are right" in body
    assert "battery_v" in body
    assert "67.11" in body
    assert "Splits side by side" not in body


def test_the_demonstrations_log_beside_its_own_setup(compared):
    view = asked()
    seen = logged.seen(compared, view)
    assert seen.reading.name == logged.DEMO_SETUP
    answer = words(page.answer(compared, view))
    assert "660 ft took 25.3 ± 0.2 s; the job predicts 25.15 s" in answer
    body = words(page.body(compared, view))
    for said in ("Splits side by side", "at 660 ft, km/h", "Begins at, s (found ±", "drag area"):
        assert said in body
    head, rows, _ = page._numbers(compared, view)
    assert len(head) == 3
    assert len(rows) > 20


def test_a_start_that_is_moved_moves_the_splits(compared):
    seen, moved = (logged.seen(compared, asked(start=x)) for x in (None, 3.5))
    off = farthest(moved.before).measured - farthest(seen.before).measured
    assert off == pytest.approx(seen.run.began - 3.5, abs=0.02)


def test_a_fit_corrects_the_job_and_the_old_one_stays(compared):
    view = asked(move=["drag-area"])
    before = compared.job.model_dump_json()
    assert logged.seen(compared, view).found is None
    task = Task()
    logged.work(compared, view, task)
    assert 0 < task.done <= task.most
    seen = logged.seen(compared, view)
    assert seen.found.low[0] < seen.found.values[0] < seen.found.high[0]
    assert "fitted to 1 run" in seen.better.bike["cargo"].source_of("drag_area_m2")
    assert compared.job.model_dump_json() == before
    assert "the corrected job" in words(page.answer(compared, view))
    assert "Open the corrected job here" in words(log_cards.found_table(seen))
    assert "Corrected" in words(log_cards.splits_table(seen.before, seen.after, mph=True))
    assert rms(seen.after, "speed") < rms(seen.before, "speed")
    assert len(page._draw(compared, view)["data"]) == 5


def test_a_stop_leaves_things_as_they_were(compared):
    view, task = asked(move=["mass"]), Task()
    task.stop()
    logged.work(compared, view, task)
    assert logged.seen(compared, view).found is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "time,speed (km/h)\n" + "".join(f"{k},{k}\n" for k in range(6)) + "x,5\n" * 5,
            "line 8: time = 'x' is no time".replace("'", '"'),
        ),
        ("time,speed (km/h)\n" + "".join(f"{k},0\n" for k in range(30)), "no run from rest"),
        ("hello", "ride.csv"),
    ],
)
def test_a_log_that_cannot_be_read_says_where_and_why(compared, text, said):
    view = asked(**sent(text))
    answer = words(page.answer(compared, view))
    assert "That log cannot be compared" in answer
    assert said in answer.replace("\\", "")
    page.body(compared, view)


def test_a_gpx_track_has_its_columns_already(compared):
    points = "".join(
        f'<trkpt lat="{52 + x / 111195:.7f}" lon="13.0">'
        f"<time>2024-06-11T12:00:{s:02d}Z</time></trkpt>"
        for s, x in enumerate([0.0] * 5 + [k**2 / 4 for k in range(30)])
    )
    text = f"<gpx version='1.1' creator='none'><trk><trkseg>{points}</trkseg></trk></gpx>"
    view = asked(**sent(text, "ride.gpx"), sure=False)
    assert "These columns are right" in words(page.body(compared, view))
    seen = logged.seen(compared, asked(**sent(text, "ride.gpx")))
    assert set(seen.before.measured) == {"speed", "distance"}
    page.body(compared, asked(**sent(text, "ride.gpx"), channel="volts"))


def test_a_log_that_is_gone_is_asked_for_again(compared):
    assert "open it again" in words(page.answer(compared, asked(token="gone", name="x.csv")))


def test_units_have_one_spelling_each_and_a_person_has_the_last_word(compared):
    assert log_cards.unit_choices("speed") == ["km/h", "mph", "m/s", "kn", "ft/s"]
    assert log_cards.unit_choices("time")[:2] == ["s", "ms"]
    assert log_cards.usual_unit("speed", "kph") == "km/h"
    text = demo_log().read().decode().replace("speed_kmh", "v")
    view = asked(**sent(text), columns={"speed": "v:mph"})
    seen = logged.seen(compared, replace(view))
    plain = logged.seen(compared, asked())
    assert seen.run.speed.max() == pytest.approx(1.609344 * plain.run.speed.max(), rel=1e-6)


def test_a_column_that_is_corrected_is_drawn(compared):
    """The volts of a log were taken of the wrong column; speeds and times stay the same."""
    head, *rows = demo_log().read().decode().split("\n", 1)[1].splitlines()
    text = "\n".join([f"{head},spare_v", *(f"{row},0.0" for row in rows)])
    first = logged.seen(compared, asked(**sent(text), columns={"pack_v": "battery_v"}))
    other = logged.seen(compared, asked(**sent(text), columns={"pack_v": "spare_v"}))
    assert first.before.measured["volts"].max() > 60
    assert (other.before.measured["volts"] == 0).all()


def test_a_fit_is_kept_for_what_was_measured_and_no_other(compared):
    run = logged.seen(compared, asked()).run
    kinds = {
        logged._fit_kind(compared.job, one, ("mass",))
        for one in (run, replace(run, name="other"), replace(run, volts=run.volts + 1))
    }
    assert len(kinds) == 3


def test_what_the_view_keeps_is_read_with_care():
    odd = View(extra={"log": {"run": "x", "start": float("nan"), "channel": 3, "move": ["wings"]}})
    found = logged.Asked.of(odd)
    assert (found.run, found.start, found.channel, found.move) == (1, None, "speed", ())
    assert logged.Asked.of(View(extra={"log": 7})) == logged.Asked()


def test_the_verdict_in_other_words(compared):
    one = logged.seen(compared, asked()).before
    split = farthest(one)
    assert split_name(split) == "660 ft"
    assert split_name(replace(split, kind="speed", target=8.9408), mph=True) == "0 to 20 mph"
    near = replace(split, predicted=split.measured)
    assert "no more off than the log is" in verdict(replace(one, splits=(near,)))
    slow = replace(split, predicted=split.measured + 2)
    assert "2 s too slow" in verdict(replace(one, splits=(slow,)))
    assert "came to no distance" in verdict(replace(one, splits=()))


def test_the_figure_has_what_it_is_given():
    time = np.linspace(-1.0, 9.0, 11)
    drawn = drawing.build(
        "Speed", "km/h", time, time**2, [drawing.Predicted("the job", time**2 + 1)], 2, 1200
    )
    line, left, measured = drawn["data"]
    assert measured["mode"] == "markers"
    assert line["mode"] == "lines"
    assert unpacked(left["y"]) == pytest.approx(-1.0)
    assert left["yaxis"] == "y2"
    narrow = drawing.build("Speed", "km/h", time, time, [], 0, 300)
    assert narrow["layout"]["dragmode"] is False
    assert drawing.blank("nothing")["data"] == []
