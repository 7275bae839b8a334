"""The heat page's plots and its typical values, on what is drawn and what lands in the job."""

import numpy as np
import plotly.graph_objects as go
import pytest

from curves import load_job
from curves.motion.heat import heat_map, hill
from curves.motion.heat.steepness import settled_to_steepest
from curves.motion.heat.tracks import hill_tracks
from curves.parts.goals import Hill
from curves.parts.heating import HALF, HEAT_FIELDS, typical_heat
from curves.parts.job import build_job
from curves.units import AS_WRITTEN, KMH, PERCENT, Units
from dashboard.answers.setups import compare
from dashboard.figures.spec import unpacked
from dashboard.pages.heat import figure_heat as heat
from dashboard.pages.heat import figure_heat_map as map_figure
from dashboard.pages.heat import figure_hill as hill_lines
from dashboard.pages.heat import page as stay_cool
from dashboard.pages.heat import study as warmed
from dashboard.pages.heat import typical_heat as picker
from dashboard.state.session import Session, View


@pytest.fixture(scope="module")
def compared():
    """Two setups are enough, and quick."""
    tree = load_job().tree()
    tree["setup"] = tree["setup"][:2]
    found = compare(Session.of(build_job(tree, name="job")))
    warmed.work(found, View())
    return found


def spoken(component) -> str:
    return str(component).replace(r"\xa0", " ")


def bare_session():
    """The demonstration with a motor that says nothing of heat."""
    tree = load_job().tree()
    gone = {*HEAT_FIELDS, "winding_limit_c", "profile"}
    whole = load_job().motor["hub"].model_dump(exclude_none=True)
    motor = {name: value for name, value in whole.items() if name not in gone}
    for notes in ("sources", "tolerance"):
        motor[notes] = {k: v for k, v in whole.get(notes, {}).items() if k not in gone}
    tree["motor"]["hub"] = motor
    return Session.of(build_job(tree, name="job"))


def test_a_track_passes_the_limit_where_the_hill_says(compared):
    rig, goal = compared.shown[0].rig, compared.job.goals.hill
    found = hill([rig], goal.grade_percent * PERCENT, goal.length_m, goal.speed_kmh * KMH)
    track = hill_tracks([rig], goal.grade_percent * PERCENT, goal.speed_kmh * KMH, 5000.0)
    at = np.interp(rig.motor.winding_limit_c, track.winding_c[0], track.way[0])
    # Straight between drawn points; both are integrated to 1e-4 or better.
    assert at == pytest.approx(found.longest[0], rel=2e-3)


def test_a_track_asks_for_a_way_and_knows_who_has_no_heat_values():
    rig = bare_session().job.rigs()[0]
    assert np.isnan(hill_tracks([rig], 0.08, 4.0, 100.0).winding_c).all()
    with pytest.raises(ValueError, match="above 0"):
        hill_tracks([rig], 0.08, 0.0, 100.0)


def test_the_steep_map_is_the_map(compared):
    rig = compared.shown[0].rig
    speed, most = np.array([3.0, 5.0]), np.array([0.06, 0.05])
    steep = settled_to_steepest(rig, speed, most, 3)
    for j in range(2):
        flat = heat_map([rig], speed[j : j + 1], steep.grade[:, j])
        assert np.allclose(steep.winding_c[:, j], flat.winding_c[0, :, 0], rtol=1e-9)


def test_lines_of_a_temperature_settle_at_it(compared):
    reading, found = warmed.mapped(compared, View())
    grade = heat.grade_at(found, 60.0)
    j = int(np.flatnonzero(np.isfinite(grade))[5])
    settled = heat_map([reading.rig], found.kmh[j : j + 1] * KMH, grade[j : j + 1] * PERCENT)
    # A grade is read off straight between points of the map.
    assert settled.winding_c[0, 0, 0] == pytest.approx(60.0, abs=1.0)


def test_the_map_is_drawn_in_ink_and_the_setups_colour_alone(compared):
    reading, found = warmed.mapped(compared, View())
    goal = Hill(grade_percent=3.0, length_m=500.0, speed_kmh=15.0)
    made = heat.build(reading.slot, reading.name, found, goal, AS_WRITTEN)
    assert len(go.Figure(made).data) == len(made["data"])
    colours = {t["line"].get("color") for t in made["data"] if t["mode"] == "lines"} - {None}
    assert colours == {heat.NEUTRAL, heat.mark(reading.slot).colour}
    words = [w for t in made["data"] if "text" in t["mode"] for w in t["text"]]
    assert any("limit, 130 °C" in w for w in words)
    assert any("goal’s hill" in w for w in words)
    most = next(t for t in made["data"] if t.get("name") == "as delivered")
    assert np.allclose(unpacked(most["y"]), found.grade[-1], rtol=2**-22)


def test_levels_stay_clear_of_the_limit(compared):
    _, found = warmed.mapped(compared, View())
    drawn = heat.levels(found, AS_WRITTEN)
    assert drawn[-1] == found.limit_c
    assert all(found.limit_c - c > heat.APART_C for c in drawn[:-1])


def test_levels_are_round_as_they_are_read(compared):
    _, found = warmed.mapped(compared, View())
    units = Units.of(["°F"])
    read = [units.shown(c, "°C") for c in heat.levels(found, units)[:-1]]
    assert len(read) > 3
    assert np.allclose(read, 10 * np.round(np.array(read) / 10))


def test_the_hill_has_a_line_a_setup_and_its_limit(compared):
    made = hill_lines.build(compared, View())
    go.Figure(made)
    names = [t.get("name") for t in made["data"] if t.get("name")]
    assert names == ["as delivered", "13 cells"] * 2
    assert any("limit of the winding, 130 °C" in n["text"] for n in made["layout"]["annotations"])


def test_the_answer_has_its_numbers_and_says_what_is_invented(compared):
    said = spoken(stay_cool.answer(compared, View()))
    assert "3.6 km (1.8 to 9.0)" in said
    assert stay_cool.INVENTED in said


def test_nothing_is_worked_out_while_the_page_is_drawn(monkeypatch):
    monkeypatch.setattr(warmed, "hill", None)
    tree = load_job().tree()
    tree["conditions"]["air_c"] = 11.25
    fresh = compare(Session.of(build_job(tree, name="job")))
    assert "Climbing" in str(stay_cool.answer(fresh, View()))
    stay_cool.columns(fresh, View())
    stay_cool.body(fresh, View())


def test_typical_values_are_offered_and_taken_with_their_tolerance():
    session = bare_session()
    assert picker.lacking(session) == ["hub"]
    assert "sure to half their size" in str(picker.offer(session, AS_WRITTEN))
    new = picker.take(session, "hub", "geared hub", 4.0, "F")
    motor = new.job.motor["hub"]
    assert picker.lacking(new) == []
    assert motor.winding_limit_c == 155.0
    for name, value in typical_heat("geared hub", 4.0).items():
        assert getattr(motor, name) == pytest.approx(value)
        assert motor.tolerance[name] == HALF
        assert motor.source_of(name).startswith("typical")
    with pytest.raises(ValueError, match="mass"):
        picker.take(session, "hub", "geared hub", 0.0, "F")


def test_a_motor_without_values_is_told_so_and_has_no_map():
    compared = compare(bare_session())
    warmed.work(compared, View())
    assert "take typical heat values" in str(stay_cool.answer(compared, View()))
    made = map_figure.build(compared, View())
    assert made["layout"]["annotations"][0]["text"] == "Its motor has no heat values yet"
    go.Figure(hill_lines.build(compared, View()))
