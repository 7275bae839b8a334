"""What is emptied or cannot be read: an error beside the field, and what was before holds."""

import math

import pytest

from curves import Pack, dump_job, load_job, parse_job
from curves.parts.goals import Hill
from curves.units import AS_WRITTEN, Units
from dashboard.base import ids
from dashboard.pages.range import page as how_far
from dashboard.pages.range import ride_card
from dashboard.pages.weakest_link import page as what_gives
from dashboard.shell.beside import moved
from dashboard.shell.editing import attempt, edit_part, edit_row
from dashboard.shell.part_form import MODELS, part_form
from dashboard.state.part_edits import taken_back, with_hill
from dashboard.state.session import PARTS, Session
from dashboard.widgets import left_out, options
from tests.unit.component_tree import parts, words

EMPTY = ("", "   ", None)
TABLES = ("format", "conditions", "goals", "setup", *PARTS)
"""Of the job itself: what is no field of a form."""
KV = ids.field("motor", "hub", "kv_rpm_per_v")


@pytest.fixture
def session():
    return Session.of(load_job())


def every_field(session):
    """Every field of every part of the demonstration: its id, model and key."""
    for part, model in MODELS.items():
        names = getattr(session.job, part) if part in PARTS else ["0" if part == "setup" else ""]
        for name in names:
            for key in model.model_fields:
                if key not in ("sources", "tolerance", "profile", "hill") and not (
                    part == "job" and key in TABLES
                ):
                    yield ids.field(part, name, key), model, key
    for key in ("grade_percent", "length_m", "speed_kmh"):
        yield ids.field("goals", "", f"hill.{key}"), Hill, key


@pytest.mark.parametrize("empty", EMPTY)
def test_no_emptied_field_takes_another_value(session, empty):
    for where, model, key in every_field(session):
        before = session.table(where["part"], where["name"])
        before = before.hill if model is Hill else before
        now = getattr(before, key)
        if isinstance(now, bool):
            continue
        new, said = attempt(session, edit_part, where, empty, AS_WRITTEN)
        after = new.table(where["part"], where["name"])
        after = after.hill if model is Hill else after
        if said is None:
            # What may be left out is none from then on, in the page and in the file.
            assert left_out.may_be(model, key), key
            assert getattr(after, key) is None
            assert parse_job(dump_job(new.job)) == new.job
        else:
            assert new is session
            assert said.endswith("in force"), said


@pytest.mark.parametrize("wrong", ["", "abc", "--", "1e", "nan", "8.4.1"])
def test_kv_that_cannot_be_read_is_an_error_and_the_old_one_stays(session, wrong):
    own = edit_part(session, KV, 9.3)
    new, said = attempt(own, edit_part, KV, wrong, AS_WRITTEN)
    assert new is own
    assert said.endswith("; 9.3 rpm/V stays in force"), said
    assert parse_job(dump_job(new.job)).motor["hub"].kv_rpm_per_v == 9.3


def test_the_old_value_is_told_in_the_readers_units(session):
    where = ids.field("tune", "town", "speed_cap_kmh")
    capped = edit_part(session, where, 40.0)
    _, said = attempt(capped, edit_part, where, "fast", Units.of(["mph"]))
    assert said == "must be a number; 24.8548 mph stays in force"
    row = ids.row(1, "state_of_charge")
    assert attempt(session, edit_row, row, "", AS_WRITTEN)[1] == (
        "must be a number; 100 % stays in force"
    )


def test_every_field_that_may_be_left_out_tells_what_that_means():
    for part, model in MODELS.items():
        for key in model.model_fields:
            if key in ("source", "profile", "hill") or not left_out.may_be(model, key):
                continue
            assert left_out.means(part, key, model).startswith("none: "), (part, key)
    known = {f"{part}.{key}" for part, model in MODELS.items() for key in model.model_fields}
    assert left_out.MEANS.keys() <= known


def test_an_emptied_field_of_the_form_shows_what_that_means(session):
    inputs = {
        str(x.id): x for x in parts(part_form(session, "tune", "town")) if hasattr(x, "placeholder")
    }
    cap = inputs[str(ids.field("tune", "town", "power_cap_w"))]
    assert cap.placeholder == "none: no cap"
    assert inputs[str(ids.field("tune", "town", "phase_current_a"))].placeholder == ""


def test_a_profiles_value_comes_back_by_a_button_that_names_it(session):
    own = edit_part(session, KV, 9.3)
    buttons = {
        str(x.id): x
        for x in parts(part_form(own, "motor", "hub"))
        if isinstance(getattr(x, "id", None), dict) and x.id.get("type") == "form-act"
    }
    button = buttons[str(ids.form_act("take/kv_rpm_per_v"))]
    assert words(button) == "Take 8.4 rpm/V from demo-hub-direct"
    assert not button.hidden
    assert buttons[str(ids.form_act("take/pole_pairs"))].hidden
    said = {str(name): props for name, props in moved(own, KV, AS_WRITTEN)}
    assert said[str(ids.form_act("take/kv_rpm_per_v"))] == {"hidden": False}
    back = taken_back(own, "hub", "kv_rpm_per_v").job.motor["hub"]
    assert back.kv_rpm_per_v == 8.4
    for said in ("source_of", "source_kind"):
        assert getattr(back, said)("kv_rpm_per_v") == getattr(session.job.motor["hub"], said)(
            "kv_rpm_per_v"
        )
    assert back.tolerance["kv_rpm_per_v"] == 0.02


def test_a_label_tells_where_what_was_typed_comes_from(session):
    own = edit_part(session, KV, 9.3)
    ((_, said), _) = moved(own, KV, AS_WRITTEN)
    assert said["label"].title == "typed, source not given; ± 3 %, usual for its kind"


def test_the_hill_comes_and_goes_by_a_button(session):
    none = with_hill(session, there=False)
    assert none.job.goals.hill is None
    where = ids.field("goals", "", "hill.length_m")
    assert where not in [getattr(x, "id", None) for x in parts(part_form(none, "goals", ""))]
    assert edit_part(none, where, 300) is none
    again = with_hill(none, there=True)
    assert again.job.goals.source_kind("hill") == "typical"
    assert where in [getattr(x, "id", None) for x in parts(part_form(again, "goals", ""))]


def test_a_list_shown_to_six_digits_stays_what_it_is():
    points = ((10.0, 1.0), (80.123456789, 0.9))
    job = load_job().replace("motor.hub.torque_derating", points)
    session = Session.of(job)
    form = part_form(session, "motor", "hub")
    where = ids.field("motor", "hub", "torque_derating")
    (there,) = [x for x in parts(form) if getattr(x, "id", None) == where]
    assert edit_part(session, where, there.value) is session


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("", "must be a number; 0.1 stays in force"),
        (None, "must be a number; 0.1 stays in force"),
        ("abc", "must be a number; 0.1 stays in force"),
        (True, "must be a number; 0.1 stays in force"),
        (400.0, "must be from 0.001 to 10; 0.1 stays in force"),
        (0.2, None),
    ],
)
def test_an_option_says_what_is_wrong_and_what_holds(value, said):
    made = options.enter("p", "worth", "Worth", 0.1, least=0.001, most=10.0)
    control = options._Control(value, made.id, made.placeholder, made.min, made.max, None)
    wrong = control.wrong({})
    assert control.said(wrong, {})["error"] == said


def test_an_option_that_may_be_empty_means_none_and_says_so():
    made = options.enter("p", "fuse_a", "Fuse", math.nan, least=1e-9, empty="none: not checked")
    asked = (made.id, made.placeholder, made.min, made.max, None)
    assert not options._Control("", *asked).wrong({})
    control = options._Control(0, *asked)
    assert control.said(control.wrong({}), {"fuse_a": 30})["error"] == (
        "must be above 0; 30 stays in force"
    )


def test_a_wire_that_is_none_is_said():
    control = options._Control("thick", {"key": "pack_wire_awg"}, None, None, None, None)
    wrong = control.wrong({"pack_wire_awg": what_gives._gauge_problem})
    assert "is no wire size" in wrong
    assert control.said(wrong, {"pack_wire_awg": "10"})["error"].endswith("; 10 stays in force")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (("", 100, 10), ["must be a number", "", ""]),
        ((25, "abc", None), ["", "must be a number", "must be a number"]),
        ((500, 100, 10), ["must be from 1 to 200", "", ""]),
        ((25, 40, 60), ["", "", "must be below the charge it starts from"]),
        ((25, 100, 10), ["", "", ""]),
    ],
)
def test_how_far_says_what_is_wrong(typed, said):
    assert how_far._wrong(typed, 1.0) == said


def test_a_stretch_of_a_ride_says_what_is_wrong_and_what_holds():
    ride = ((25.0, 0.0, 5.0),)
    for field, value, said in (
        ("kmh", "", "must be a number; 25 stays in force"),
        ("percent", 90, "must be from -40 to 40; 0 stays in force"),
        ("km", 0, "must be above 0, to 1,000; 5 stays in force"),
        ("km", 3, ""),
    ):
        assert ride_card._wrong({"field": field, "row": 0}, value, ride, AS_WRITTEN) == said


def test_an_empty_field_of_a_pack_tells_what_that_pack_needs():
    by_cells = load_job().pack["cells-13"]
    assert left_out.means("pack", "series", by_cells) == ""
    assert left_out.means("pack", "open_circuit_v", by_cells) == "none: a pack given by its cells"
    by_volts = Pack(open_circuit_v=48.0, resistance_ohm=0.1)
    assert left_out.means("pack", "series", by_volts) == "none: a pack given by its volts"
    assert left_out.means("pack", "open_circuit_v", by_volts) == ""
