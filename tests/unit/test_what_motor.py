"""The page of bench readings without a browser: what is typed, what it gives, what is left out."""

import json
import math
from datetime import date

import pytest

from curves import load_job, parse_job
from curves.errors import JobError
from curves.measured.logs import demo_bench_text
from curves.measured.profile import motor_profile, put_into
from curves.measured.readings import Bench, bench_text, bench_tree, parse_bench, right_rows
from curves.units import Units
from dashboard.answers.setups import compare
from dashboard.pages.bench import motor_card
from dashboard.pages.bench import page as what_motor
from dashboard.pages.bench.bench_guides import GUIDES
from dashboard.pages.bench.study import found_in
from dashboard.state import uploads
from dashboard.state.session import Session, View
from dashboard.state.uploads import MOST_BYTES, at_hand, decoded, keep
from dashboard.widgets import readings

DEMO = {k: v for k, v in bench_tree(demo_bench_text()).items() if k != "format"}


def words(component):
    """All text of a tree of components."""
    text = json.dumps(component, default=lambda c: c.to_plotly_json(), ensure_ascii=False)
    return text.replace("\\u00a0", " ").replace("\u00a0", " ")


def page(tree):
    view = readings.with_tree(View(), what_motor.NAME, tree)
    compared = compare(Session.of(load_job()))
    return words(what_motor.answer(compared, view)), words(what_motor.body(compared, view))


def test_the_demonstrations_readings_make_a_motor():
    answer, body = page(DEMO)
    assert "8.40 ± 0.05" in answer
    assert "20 pole pairs" in answer
    assert "Torque per rms phase ampere" in answer
    assert "four-wire, 3 pairs of leads" in body
    assert "0.166 ± 0.002 Ω" in body


def test_an_empty_page_asks_for_readings_and_half_a_motor_says_what_is_missing():
    assert "type the readings below" in page({})[0]
    answer, body = page({"resistance": DEMO["resistance"]})
    assert "Not a motor yet: kv" in answer
    assert "inductance, least (d)" in answer.lower()
    assert "Still missing" in body


def test_a_wrong_reading_is_named_and_the_others_count():
    rows = [*DEMO["resistance"], {"pair": "A-B", "amperes": "two", "millivolts": 300.0}]
    answer, body = page({**DEMO, "resistance": rows})
    assert "20 pole pairs" in answer
    assert "resistance[10].amperes" in body
    assert "must be a number" in body
    assert '"two"' in json.dumps({"tree": rows})


def test_readings_without_what_they_need_are_left_out():
    found, wrong = right_rows({"inductance": DEMO["inductance"], "resistance": "x", "odd": 1})
    assert found.inductance == ()
    assert {p.where for p in wrong} >= {"bench: resistance", "bench: odd", "bench: roll_out"}
    assert right_rows({"format": "other"})[1] == ()


ODD = [[], [1], [[1]], [None], [{}], [{"pair": {"a": 1}, "amperes": [1]}], {"a": [1]}, 3, None,
       date(2026, 5, 1), [{"pair": date(2026, 5, 1)}], 10**40, math.inf, "x"]  # fmt: skip


@pytest.mark.parametrize("value", ODD, ids=str)
def test_a_misspelt_heading_is_named_whatever_stands_below_it(value):
    answer, body = page({**DEMO, "resistence": value})
    assert "20 pole pairs" in answer
    assert "unknown field, did you mean resistance" in body
    assert "left out until they are right" in body


@pytest.mark.parametrize("name", Bench.model_fields)
def test_a_table_of_anything_else_is_left_out_and_named(name):
    for value in ODD[1:]:
        _, wrong = right_rows({name: value, "resistence": [1]})
        assert {p.where for p in wrong} >= {"bench: resistence"}
    answer, body = page({name: [1, {"pair": 2}]})
    assert "Not a motor yet" in answer
    assert "left out until they are right" in body or name == "format"


def test_what_is_typed_goes_where_it_belongs():
    table = next(g.table for g in GUIDES if g.table.name == "resistance")
    tree = readings.put({}, table, 0, "amperes", "2,5")
    assert tree == {"resistance": [{"amperes": 2.5}]}
    assert readings.put(tree, table, 0, "amperes", "2.x")["resistance"] == [{"amperes": "2.x"}]
    assert readings.put(tree, table, 0, "amperes", "")["resistance"] == [{}]
    assert readings.put(tree, table, 7, "amperes", 1.0) is tree
    poles = next(g.table for g in GUIDES if g.table.name == "not_measured")
    whole = readings.put({}, poles, 0, "pole_pairs", 20.0)["not_measured"]["pole_pairs"]
    assert isinstance(whole, int)
    assert readings.filled({"resistance": [{"pair": "A-B"}, {"amperes": 1.0}]}) == {
        "resistance": [{"amperes": 1.0}]
    }


def test_what_is_typed_in_other_units_is_kept_in_those_of_the_file():
    table, units = readings.Table("coast_down", ("direction", "from_kmh")), Units.of(["mph"])
    tree = readings.put({}, table, 0, "from_kmh", 20, units)
    assert tree["coast_down"][0]["from_kmh"] == pytest.approx(32.18688)
    # What stands there, read back, is no change.
    assert readings.put(tree, table, 0, "from_kmh", 20.0, units) is tree
    assert "mph" in words(readings.editor("road", table, tree, units))


def test_every_guide_says_how_and_shows_fields_that_are_there():
    for guide in GUIDES:
        assert guide.steps
        assert set(guide.table.columns) <= set(guide.table.model.model_fields)


def test_the_job_takes_the_motor_and_keeps_what_was_not_measured():
    job, found = load_job(), motor_profile(parse_bench(demo_bench_text()))
    new = put_into(job, "hub", found)
    hub, old = new.motor["hub"], job.motor["hub"]
    assert hub.kv_rpm_per_v == pytest.approx(found.motor.kv_rpm_per_v)
    assert hub.source_kind("kv_rpm_per_v") == "measured"
    assert hub.tolerance["resistance_ohm"] > 0
    assert hub.case_heat_j_per_k == old.case_heat_j_per_k
    assert hub.source_of("case_heat_j_per_k") == old.source_of("case_heat_j_per_k")
    assert parse_job(json.dumps(new.tree())).motor["hub"] == hub
    added = put_into(job, "measured", found)
    assert added.motor["hub"] == old
    assert added.motor["measured"].pole_pairs == 20


def test_readings_survive_their_file():
    tree = {**DEMO, "title": "Mine"}
    assert bench_tree(bench_text(tree))["title"] == "Mine"
    assert found_in(tree).derived.values["kv_rpm_per_v"].readings == 4
    assert "rpm/V" in motor_card.measured(
        found_in(tree).derived.values["kv_rpm_per_v"], "kv_rpm_per_v"
    )


def test_files_that_a_browser_sends():
    assert decoded("data:text/csv;base64,YQ==", "x.csv") == b"a"
    for cut in ("YQ", "Y*Q=="):
        with pytest.raises(JobError, match="did not arrive whole"):
            decoded(f"data:text/csv;base64,{cut}", "x.csv")
    token = keep(b"abc", "x.csv")
    assert keep(b"abc", "y.csv") == token
    assert at_hand(token) == b"abc"
    assert at_hand("none") is None
    with pytest.raises(JobError, match="40 MB"):
        keep(bytes(MOST_BYTES + 1), "big.csv")


def test_of_the_files_sent_the_latest_are_kept(monkeypatch):
    monkeypatch.setattr(uploads, "KEPT_BYTES", 25)
    tokens = [keep(bytes((k,)) * 10, "x.csv") for k in range(4)]
    assert [at_hand(token) is not None for token in tokens] == [False, False, True, True]
