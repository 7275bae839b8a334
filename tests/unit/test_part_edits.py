"""Parts come, go and are renamed; every field of every part has an input in the form."""

import pytest

from curves import JobError, load_job, load_profile, profile_names
from dashboard.base import ids
from dashboard.shell.editing import edit_part
from dashboard.shell.part_form import MODELS, NOTES, part_form
from dashboard.state.part_edits import added, copied, removed, renamed
from dashboard.state.session import PARTS, Session
from tests.unit.component_tree import ids_of


@pytest.fixture
def session():
    return Session.of(load_job())


@pytest.mark.parametrize("part", [*PARTS, "setup", "conditions", "goals"])
def test_every_field_has_an_input(session, part):
    name = {"setup": "0", "conditions": "", "goals": ""}.get(part)
    name = next(iter(getattr(session.job, part))) if name is None else name
    there = ids_of(part_form(session, part, name))
    fields = set(MODELS[part].model_fields) - set(NOTES)
    if part == "pack":
        # A pack is described by its cells or as a source, never by both.
        fields -= {"open_circuit_v", "resistance_ohm", "full_charge_v"}
    if part == "goals":
        fields -= {"hill"}
        there_hill = [ids.field(part, "", f"hill.{k}") for k in ("grade_percent", "length_m")]
        assert all(where in there for where in there_hill)
    assert [key for key in sorted(fields) if ids.field(part, name, key) not in there] == []


def test_a_part_is_renamed_for_all_that_have_it(session):
    new = renamed(session, "tune", "town", " shop ")
    assert next(iter(new.job.tune)) == "shop"
    assert {s.tune for s in new.job.setup} == {"shop", "uncapped", "weakened"}
    assert renamed(new, "tune", "shop", "shop") is new


@pytest.mark.parametrize(("name", "said"), [(" ", "empty"), ("weakened", "taken")])
def test_a_name_that_will_not_do_is_refused(session, name, said):
    with pytest.raises(JobError, match=said):
        renamed(session, "tune", "town", name)


def test_parts_are_copied_and_go_while_no_setup_has_them(session):
    more, name = copied(session, "pack", "cells-13")
    assert more.job.pack[name] == more.job.pack["cells-13"]
    assert removed(more, "pack", name).job == session.job
    assert removed(session, "pack", "cells-13") is session


@pytest.mark.parametrize("profile", profile_names())
def test_a_motor_comes_from_a_profile(session, profile):
    more, name = added(session, "motor", profile, {"profile": profile})
    assert more.job.motor[name].kv_rpm_per_v == load_profile(profile).kv_rpm_per_v
    again, other = added(more, "motor", profile, {"profile": profile})
    assert other == f"{profile} (2)"
    assert len(again.job.motor) == 3


def test_uncertainty_is_typed_in_percent_and_taken_out(session):
    where = ids.field("bike", "cargo", "tolerance.drag_area_m2")
    new = edit_part(session, where, "8")
    assert new.job.bike["cargo"].tolerance["drag_area_m2"] == pytest.approx(0.08)
    assert edit_part(new, where, 8) is new
    assert "drag_area_m2" not in edit_part(new, where, "").job.bike["cargo"].tolerance


def test_a_setup_is_edited_by_its_slot(session):
    new = edit_part(session, ids.field("setup", "1", "magnet_c"), 60)
    assert new.job.setup[1].magnet_c == 60
    assert edit_part(session, ids.field("setup", "99", "magnet_c"), 60) is session


def test_the_job_itself_is_edited_like_a_part():
    session = Session.of(load_job())
    assert len(ids_of(part_form(session, "job", ""))) == 4  # both fields, the choice, the cross
    titled = edit_part(session, {"part": "job", "name": "", "key": "title"}, "Mine")
    assert titled.job.title == "Mine"
    other = edit_part(session, {"part": "job", "name": "", "key": "compare_to"}, "13 cells")
    assert other.reference == session.slots[1]
    none = edit_part(session, {"part": "job", "name": "", "key": "compare_to"}, "")
    assert none.reference is None


def test_all_setups_are_shown_again():
    session = Session.of(load_job())
    assert session.toggle(0).toggle(1).show_all(0) == session
