"""Fields that are right only together, typed one at a time into the form."""

import pytest

from curves import load_job
from curves.units import AS_WRITTEN, Units
from dashboard.base import ids
from dashboard.shell import together as group
from dashboard.shell.editing import attempt, edit_part
from dashboard.shell.part_form import MODELS
from dashboard.state.session import Session
from dashboard.widgets.fields import shown, unit_of


@pytest.fixture
def session():
    return Session.of(load_job())


def form(session, part, name, **typed):
    """Every field of a group as it stands in the form, with what was typed over it."""
    table = getattr(session.job, part)[name]
    keys = [key for some in group.GROUPS[part] for key in some]
    stood = {
        key: shown(getattr(table, key), unit_of(MODELS[part], key), AS_WRITTEN) for key in keys
    }
    return [(ids.field(part, name, key), value) for key, value in {**stood, **typed}.items()]


def step(session, part, name, key, **typed):
    """A field left after typing in it: first alone, then with those that go with it."""
    where = ids.field(part, name, key)
    new, said = attempt(session, edit_part, where, typed[key], AS_WRITTEN)
    if new is session:
        new = group.together(session, where, form(session, part, name, **typed), AS_WRITTEN)
    return new, said


def test_a_fold_back_is_set_and_taken_out_one_field_at_a_time(session):
    one, said = step(session, "controller", "sine", "foldback_start_v", foldback_start_v=44)
    assert one is session
    assert said.startswith("foldback end is missing")
    assert said.endswith("; none stays in force")
    both, _ = step(
        one, "controller", "sine", "foldback_end_v", foldback_start_v=44, foldback_end_v=40
    )
    made = both.job.controller["sine"]
    assert (made.foldback_start_v, made.foldback_end_v) == (44.0, 40.0)
    half, said = step(both, "controller", "sine", "foldback_start_v", foldback_start_v="")
    assert half is both
    assert said.endswith("; 44 V stays in force")
    none, _ = step(
        half, "controller", "sine", "foldback_end_v", foldback_start_v="", foldback_end_v=""
    )
    assert none.job.controller["sine"].foldback_start_v is None
    assert none.job.controller["sine"].foldback_end_v is None


def test_a_tyre_stands_for_a_measured_roll_out_and_back(session):
    name = next(iter(session.job.bike))
    assert session.job.bike[name].circumference_m is not None
    one, said = step(session, "bike", name, "tyre", tyre="57-507")
    assert one is session
    assert said.endswith("none stays in force")
    two, _ = step(one, "bike", name, "circumference_m", tyre="57-507", circumference_m="")
    made = two.job.bike[name]
    assert (made.tyre, made.circumference_m) == ("57-507", None)
    # What was said of the measured value is not said of another.
    assert "circumference_m" not in {**made.sources, **made.tolerance}
    half, _ = step(two, "bike", name, "tyre", tyre="")
    assert half is two
    back, _ = step(half, "bike", name, "circumference_m", tyre="", circumference_m=2.1)
    assert back.job.bike[name].circumference_m == 2.1
    assert back.job.bike[name].tyre is None


def test_a_coast_down_stands_for_rolling_and_drag(session):
    name = next(iter(session.job.bike))
    typed = {"road_load_n": "12, 0.1, 0.3", "rolling_coefficient": "", "drag_area_m2": ""}
    two = form(session, "bike", name, **{**typed, "drag_area_m2": 0.6})
    where = ids.field("bike", name, "rolling_coefficient")
    assert group.together(session, where, two, AS_WRITTEN) is session
    made = group.together(session, where, form(session, "bike", name, **typed), AS_WRITTEN)
    assert made.job.bike[name].road_load_n == (12.0, 0.1, 0.3)
    assert made.job.bike[name].drag_area_m2 is None


@pytest.mark.parametrize("wrong", ["abc", -5, 1e300, 39])
def test_what_is_wrong_together_changes_nothing(session, wrong):
    where = ids.field("controller", "sine", "foldback_start_v")
    stands = form(session, "controller", "sine", foldback_start_v=wrong, foldback_end_v=40)
    assert group.together(session, where, stands, AS_WRITTEN) is session


def test_fields_that_are_alone_or_unchanged_go_alone(session):
    where = ids.field("controller", "sine", "standby_w")
    assert group.together(session, where, [(where, 9)], AS_WRITTEN) is session
    where = ids.field("controller", "sine", "foldback_start_v")
    stands = form(session, "controller", "sine")
    assert group.together(session, where, stands, Units.of(["mph"])) is session


def test_every_field_of_a_group_is_one_of_its_part():
    for part, groups in group.GROUPS.items():
        for keys in groups:
            assert set(keys) <= MODELS[part].model_fields.keys()
