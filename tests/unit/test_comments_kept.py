"""A file's comments, order and layout outlive edits; the text says what the job says, always."""

import pytest

from curves import dump_job, load_job, parse_job
from curves.parts.job import demo_job_text
from dashboard.state.session import Session

WORDS = """# A shop's own notes.
format = "rimforce-job-1"

[goals]  # asked on the phone
top_speed_kmh = 40.0  # flat road
hill = { grade_percent = 8.0, length_m = 700.0, speed_kmh = 15.0 }

[motor.m]
kv_rpm_per_v = 8.0  # measured twice
resistance_ohm = 0.2
inductance_d_uh = 300.0
inductance_q_uh = 300.0
pole_pairs = 20
[pack.p]
open_circuit_v = 48.0
resistance_ohm = 0.1
[tune.t]
phase_current_a = 60.0
[bike.b]
bike_mass_kg = 30.0
rider_kg = 80.0
circumference_m = 2.1
rolling_coefficient = 0.012
drag_area_m2 = 0.6

# The one that is ridden.
[[setup]]
name = "one"
motor = "m"
pack = "p"
tune = "t"
bike = "b"
"""


@pytest.fixture
def job():
    return parse_job(WORDS)


def test_what_is_not_edited_stands_as_it_was(job):
    assert dump_job(job, WORDS) == WORDS


def test_an_edit_changes_its_own_line_alone(job):
    edited = job.replace("motor.m.kv_rpm_per_v", 9.0).replace("goals.hill.speed_kmh", 12.0)
    said = dump_job(edited, WORDS)
    assert parse_job(said) == edited
    old, new = WORDS.splitlines(), said.splitlines()
    changed = [line for was, line in zip(old, new, strict=True) if was != line]
    assert changed == [
        "hill = { grade_percent = 8.0, length_m = 700.0, speed_kmh = 12.0 }",
        "kv_rpm_per_v = 9.0  # measured twice",
    ]


def test_setups_and_parts_come_go_and_are_renamed(job):
    session = Session.of(job, WORDS).duplicate(0).edit_setup(0, "name", "first")
    session, name = session.own_part(0, "pack")
    session = session.edit(("goals", "top_speed_kmh"), None).remove(1)
    said = dump_job(session.job, session.text)
    assert parse_job(said) == session.job
    assert name in said
    assert "# The one that is ridden." in said
    assert "# measured twice" in said


@pytest.mark.parametrize("over", ["", "not = = toml", "{}", "setup = 3", "a.b = 1\n[a]\nc = 2"])
def test_a_text_that_is_no_job_does_no_harm(job, over):
    assert parse_job(dump_job(job, over)) == job


def test_the_demo_keeps_its_comments():
    job = load_job().replace("pack.cells-13.series", 14)
    said = dump_job(job, demo_job_text())
    assert parse_job(said) == job
    comments = [line for line in demo_job_text().splitlines() if line.startswith("#")]
    assert comments
    assert all(line in said for line in comments)
