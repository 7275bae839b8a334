"""Cards of the heat page: runs with a pause between, and readings that make heat values surer."""

import pytest

from curves import load_job
from curves.motion.heat import improved_heat
from curves.motion.runs import repeated_runs
from curves.parts.heating import HEAT_FIELDS
from curves.parts.job import build_job
from curves.units import FOOT, KMH, Units
from dashboard.answers.setups import compare
from dashboard.pages.heat import heat_readings as readings
from dashboard.pages.heat import repeated_card as repeated
from dashboard.state.session import Session, View

TYPED = {"speed": 15.0, "grade": 8.0, "minutes": 6.0, "start": 20.0, "end": 95.0}


def compared(**motor):
    tree = load_job().tree()
    tree["setup"] = [s for s in tree["setup"] if s["name"] == "20 cells, cap lifted"]
    tree.pop("compare_to", None)
    tree["motor"]["hub"].update(motor)
    return compare(Session.of(build_job(tree, name="job")))


def test_a_reading_is_read_in_the_units_it_was_typed_in():
    got = readings.reading_of(TYPED, Units())
    assert (got.speed, got.grade, got.time) == pytest.approx((15 * KMH, 0.08, 360.0))
    assert (got.start_c, got.winding_c) == (20.0, 95.0)
    fahrenheit = readings.reading_of({**TYPED, "start": 68.0, "end": 203.0}, Units.of(["°F"]))
    assert (fahrenheit.start_c, fahrenheit.winding_c) == pytest.approx((20.0, 95.0))
    # Copper at 80 °C has 1.2358 times its resistance at 20 °C (IEC 60028, from memory).
    by_ohm = {**TYPED, "end": "", "cold": 0.16, "hot": 0.16 * 1.2358}
    assert readings.reading_of(by_ohm, Units()).winding_c == pytest.approx(80.0, abs=0.01)
    for lacking in ("grade", "end", "minutes"):
        assert readings.reading_of({**TYPED, lacking: ""}, Units()) is None


def test_a_reading_changes_the_motor_of_the_job_alone():
    before = compared()
    reading = readings.reading_of(TYPED, Units())
    session, found = readings.improve(before, View(), reading)
    exact = improved_heat(before.shown[0].rig, [reading]).motor
    motor = session.job.motor["hub"]
    for name in HEAT_FIELDS:
        assert getattr(motor, name) == pytest.approx(getattr(exact, name), rel=1e-9)
        assert motor.tolerance[name] == pytest.approx(exact.tolerance[name], rel=1e-9)
    assert abs(found.after_c[0] - 95.0) < abs(found.before_c[0] - 95.0)
    assert session.job.pack == before.job.pack


def test_runs_are_listed_and_the_first_too_hot_is_named():
    cool, hot = compared(), compared(winding_limit_c=30.0)
    for which, said in ((cool, "No winding passes its limit; the hottest is"), (hot, "Past the")):
        rigs = [r.rig for r in which.shown]
        found = repeated_runs(rigs, 660 * FOOT, 120.0, 2)
        assert said in repeated.sentence(found, which, Units())
        text = str(repeated.answer(which, 660 * FOOT, 120.0, 2, Units()))
        assert f"{found.time[0, 1]:.2f}, {found.winding_c[0, 1]:.0f}" in text


@pytest.mark.parametrize(
    "bad", [("a mile", 2, 6), ("660 ft", -1, 6), ("660 ft", 2, 99), ("", "", 1)]
)
def test_what_is_not_a_run_is_not_ridden(bad):
    assert repeated._asked(*bad) is None
    assert repeated._asked("100 m", 2, 6) == pytest.approx((100.0, 120.0, 6))
