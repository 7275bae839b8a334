"""What is said of a value does not outlive it: source and tolerance go with what they spoke of."""

import json

import pytest

from curves import dump_job, load_job, load_profile, parse_job
from curves.measured.logs import demo_bench_text
from curves.measured.profile import motor_profile, put_into
from curves.measured.readings import parse_bench
from curves.parts.notes import NOT_GIVEN, USUAL
from curves.parts.profiles import lay_over
from curves.report import report
from curves.units import AS_WRITTEN as KMH
from dashboard.base import ids
from dashboard.shell.editing import attempt, edit_part, edit_row
from dashboard.shell.shell import badge
from dashboard.state.session import Session
from tests.unit.component_tree import words
from tests.unit.reading_html import Tables

HUB = ("motor", "hub")


@pytest.fixture(scope="module")
def job():
    return load_job()


def text_of(job):
    return dump_job(job)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("motor.hub.kv_rpm_per_v", 9.3),
        ("motor.hub.pole_pairs", 23),
        ("bike.cargo.bike_mass_kg", 34.0),
        ("pack.cells-13.cell", "lfp-26650"),
        ("pack.cells-13.mass_kg", 6.0),
        ("controller.sine.resistance_mohm", 5.0),
        ("tune.town.phase_current_a", 80.0),
        ("tune.town.speed_cap_kmh", 45.0),
        ("conditions.air_c", 5.0),
        ("goals.top_speed_kmh", 50.0),
        ("goals.hill.grade_percent", 9.0),
    ],
)
def test_a_new_value_has_neither_source_nor_tolerance_of_the_old(job, path, value):
    new = job.replace(path, value)
    part, *name, field = path.replace("hill.grade_percent", "hill").split(".")
    table, old = (getattr(x, part) for x in (new, job))
    table, old = (x[name[0]] if name else x for x in (table, old))
    assert table.source_of(field) is None
    usual = USUAL.get(f"{part}.{field}")
    assert table.tolerance.get(field) == usual
    # Of every other value the same is said as before.
    for other in old.model_fields_set - {field, "source", "sources", "tolerance", "profile"}:
        assert table.source_of(other) == old.source_of(other)
        assert table.tolerance.get(other) == old.tolerance.get(other)
    assert "demonstration" not in dump_job(new)
    assert parse_job(dump_job(new)) == new


@pytest.mark.parametrize(
    ("path", "value"), [("motor.hub.kv_rpm_per_v", 8.4), ("pack.cells-13.series", 13.0)]
)
def test_the_very_value_is_no_change(job, path, value):
    assert job.replace(path, value) == job


def test_of_a_value_of_which_nothing_was_said_nothing_is(job):
    tree = job.tree()
    del tree["source"], tree["bike"]["cargo"]["source"], tree["bike"]["cargo"]["tolerance"]
    plain = parse_job(json.dumps(tree)).replace("bike.cargo.bike_mass_kg", 30.0)
    assert plain.bike["cargo"].tolerance == {}


def test_what_is_said_of_the_new_value_stays(job):
    new = job.replace((*HUB, "kv_rpm_per_v"), 9.3)
    new = new.replace((*HUB, "sources", "kv_rpm_per_v"), "measured: spun by hand")
    new = new.replace((*HUB, "tolerance", "kv_rpm_per_v"), 0.01)
    again = new.replace((*HUB, "pole_pairs"), 23)
    assert again.motor["hub"].source_of("kv_rpm_per_v") == "measured: spun by hand"
    assert again.motor["hub"].tolerance["kv_rpm_per_v"] == 0.01


def test_a_field_laid_over_a_profile_has_nothing_of_it_and_keeps_so_through_a_file():
    tree = load_job().tree()
    tree["motor"]["hub"] = {"profile": "demo-hub-direct", "kv_rpm_per_v": 9.3, "pole_pairs": 23}
    job = parse_job(json.dumps(tree))
    again = parse_job(dump_job(job))
    for hub in (job.motor["hub"], again.motor["hub"]):
        assert {hub.source_of(f) for f in ("kv_rpm_per_v", "pole_pairs")} == {None}
        assert "kv_rpm_per_v" not in hub.tolerance
        assert hub.source_kind("resistance_ohm") == "invented"


def test_a_field_taken_out_does_not_come_back_from_the_profile():
    job = load_job()
    assert job.motor["hub"].profile == "demo-hub-direct"
    new = job.replace((*HUB, "winding_limit_c"), None)
    assert new.motor["hub"].winding_limit_c is None
    again = parse_job(dump_job(new))
    assert again.motor["hub"].winding_limit_c is None
    assert again == new
    with pytest.raises(ValueError, match="kv_rpm_per_v: is missing"):
        job.replace((*HUB, "kv_rpm_per_v"), None)


def test_another_profile_brings_its_own_notes(job):
    new = job.replace((*HUB, "kv_rpm_per_v"), 9.3).replace((*HUB, "profile"), "demo-mid-drive")
    assert new.motor["hub"] == load_profile("demo-mid-drive")


def test_a_line_of_source_laid_over_covers_its_own_fields_alone():
    under = {"pole_pairs": 8, "resistance_ohm": 0.1}
    over = {"resistance_ohm": 0.2, "source": "measured: by hand"}
    assert lay_over(under, over)["sources"] == {"resistance_ohm": "measured: by hand"}
    assert "source" not in lay_over(under, over)


def test_the_header_says_what_is_invented_as_long_as_it_is():
    session = Session.of(load_job())
    assert words(badge(session)) == "Demonstration: the motor, packs and bike are invented"
    typed = session.edit(("motor", "hub", "kv_rpm_per_v"), 9.3)
    said = words(badge(typed))
    assert "emonstration" not in said
    assert said == ("Some values of motor, controller, packs, tunes and bike are still invented")
    tree = typed.job.tree()
    for kind in ("motor", "controller", "pack", "tune", "bike"):
        for table in tree[kind].values():
            for note in ("source", "sources"):
                table.pop(note, None)
    assert badge(Session.of(parse_job(json.dumps(tree)))) is None


def test_a_variant_of_a_study_says_nothing_old_of_its_new_numbers():
    session = Session.of(load_job()).variant(1, {"tune.pack_current_a": 31.0, "pack.mass_kg": 6.0})
    setup = session.job.setup[-1]
    assert session.job.tune[setup.tune].source_of("pack_current_a") is None
    assert session.job.tune[setup.tune].source_kind("phase_current_a") == "invented"
    assert session.job.pack[setup.pack].source_of("mass_kg") is None
    assert session.job.source is None


def test_a_bench_says_measured_of_what_was_measured_alone():
    text = demo_bench_text().replace("[not_measured]", "[not_measured]\nwinding_limit_c = 111.0")
    assert "111.0" in text
    found = motor_profile(parse_bench(text))
    assert found.motor.source_of("winding_limit_c") is None
    hub = put_into(load_job(), "hub", found).motor["hub"]
    assert hub.source_of("winding_limit_c") is None
    assert hub.source_kind("kv_rpm_per_v") == "measured"


def test_the_report_tells_typed_from_invented_and_marks_what_is_usual():
    job = load_job().replace("motor.hub.kv_rpm_per_v", 9.3)
    page = report(job)
    rows = [row for rows in Tables(page).tables.values() for row in rows]
    (kv,) = [row for row in rows if row and row[0].startswith("Rotor speed per volt")]
    assert kv[1:] == ["9.3 rpm/V", "3 %, usual", NOT_GIVEN]
    assert "a slow winding" not in page


def typed_through(session, where, values):
    for value in values:
        session, _ = attempt(session, edit_row if "slot" in where else edit_part, where, value, KMH)
    return session


@pytest.mark.parametrize(
    ("where", "values"),
    [
        (ids.field("motor", "hub", "kv_rpm_per_v"), ("8.", "8", "", "8.4")),
        (ids.field("pack", "cells-13", "parallel"), ("6", "7", "6", "5")),
        (ids.field("tune", "town", "power_cap_w"), ("", "1", "12", "120", "1200")),
        (ids.field("goals", "", "hill.speed_kmh"), ("1", "15")),
        (ids.field("conditions", "", "air_c"), ("1", "18")),
        (ids.row(1, "winding_c"), ("2", "20")),
    ],
)
def test_typed_back_key_by_key_nothing_has_changed(where, values):
    session = Session.of(load_job())
    *rest, last = values
    on_the_way = typed_through(session, where, rest)
    assert on_the_way.job != session.job
    assert on_the_way.job.tree().get("source") is None or "slot" in where
    again = Session.parse(json.loads(json.dumps(on_the_way.data())))
    back, _ = attempt(again, edit_row if "slot" in where else edit_part, where, last, KMH)
    assert json.dumps(back.data()) == json.dumps(session.data())


def test_what_changed_meanwhile_is_not_typed_back():
    session, kv = Session.of(load_job()), ids.field("motor", "hub", "kv_rpm_per_v")
    own = typed_through(session, kv, ("9.3",))
    own = own.edit(("motor", "hub", "pole_pairs"), 23)
    back = typed_through(own, kv, ("8.4",)).job.motor["hub"]
    assert back.pole_pairs == 23
    assert back.source_of("kv_rpm_per_v") is None
    said = typed_through(session, kv, ("9.3",))
    said = typed_through(said, ids.field("motor", "hub", "tolerance.resistance_ohm"), ("7",))
    said = typed_through(said, kv, ("8.4",))
    assert said.job.motor["hub"].tolerance["resistance_ohm"] == 0.07


KV_AT = json.dumps(ids.field("motor", "hub", "kv_rpm_per_v"), sort_keys=True)
WRONG_NOTES = {"at": KV_AT, "table": {"kv_rpm_per_v": 8.4, "sources": 3}, "value": 9.3}


@pytest.mark.parametrize("over", [7, [], {"at": 3}, {"at": "x", "table": 3}, WRONG_NOTES])
def test_what_a_browser_kept_wrong_of_it_is_no_harm(over):
    session = Session.parse({**Session.of(load_job()).data(), "over": over})
    kv = ids.field("motor", "hub", "kv_rpm_per_v")
    assert typed_through(session, kv, ("9.3",)).job.motor["hub"].kv_rpm_per_v == 9.3


def test_a_setup_is_renamed_by_its_name():
    job = load_job().replace("setup.13 cells.source", "measured: ridden")
    renamed = job.replace("setup.13 cells.name", "fourteen")
    assert [s.name for s in renamed.setup] == [
        "fourteen" if s.name == "13 cells" else s.name for s in job.setup
    ]
