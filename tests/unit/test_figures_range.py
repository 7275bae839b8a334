"""The range page: what is drawn and said is what ``curves.motion.energy`` worked out."""

import numpy as np
import plotly.graph_objects as go
import pytest

from curves import load_job
from curves.motion import energy
from curves.parts.job import build_job
from curves.units import KMH, WATT_HOUR
from dashboard.answers.setups import compare
from dashboard.figures.spec import unpacked
from dashboard.pages.range import page as how_far
from dashboard.pages.range import study as ranged
from dashboard.pages.range.study import Asked, Far
from dashboard.state.session import Session, View

VIEW = View(extra={"range": {"kmh": 25, "full": 1.0, "empty": 0.1, "ride": [[20, 0, 2]]}})


@pytest.fixture(scope="module")
def compared():
    """Two setups are enough, and quick."""
    tree = load_job().tree()
    tree["setup"] = tree["setup"][:2]
    found = compare(Session.of(build_job(tree, name="job")))
    ranged.work(found, VIEW)
    return found


def test_the_distance_is_that_of_the_model(compared):
    found = ranged.ranges(compared, VIEW)
    rigs = [r.rig for r, _ in found]
    told = energy.steady_range(rigs, np.array([25 * KMH]), full=1.0, empty=0.1)
    assert [f.km * 1000 for _, f in found] == pytest.approx(told.distance[:, 0].tolist())
    assert all(f.band[0] < f.km < f.band[1] for _, f in found)


def test_the_ride_is_that_of_the_model(compared):
    found = ranged.rides(compared, VIEW)
    told = energy.ride([r.rig for r, _ in found], np.array([[20 * KMH, 0.0, 2000.0]]))
    assert [x.wh * WATT_HOUR for _, x in found] == pytest.approx(told.energy[:, 0].tolist())
    assert all(x.done and x.held for _, x in found)


def test_lines_end_at_top_speed_and_the_goal_is_marked(compared):
    made = how_far._over_speed(compared, VIEW)
    go.Figure(made)
    first = next(t for t in made["data"] if t.get("name") == "as delivered")
    assert unpacked(first["x"])[-1] == pytest.approx(compared.shown[0].curve.top, rel=2e-3)
    assert any("goal, 35" in n["text"] for n in made["layout"]["annotations"])


def test_the_fastest_that_meets_a_goal_lies_between_drawn_points():
    kmh, kms = np.array([10.0, 20.0, 30.0]), np.array([60.0, 40.0, 20.0])
    far = Far(40.0, 1.0, 10.0, 2.0, 0.1, kmh, kms, kms)
    assert far.fastest(30.0) == pytest.approx(25.0)
    assert far.fastest(20.0) == pytest.approx(30.0)
    assert np.isnan(far.fastest(61.0))


def test_the_answer_leads_with_the_speed_asked_for(compared):
    said = str(how_far.answer(compared, VIEW)).replace(r"\xa0", " ")
    assert "At 25 km/h “13 cells” goes farthest: 86 ± 17 km" in said
    assert "From 100 to 10 % charge" in said


@pytest.mark.parametrize(
    ("kept", "right"),
    [
        ({"full": 0.2, "empty": 0.5}, Asked()),
        ({"kmh": "fast"}, Asked()),
        ({"ride": [[0, 0, 1], [20, 0, 1], "x", [20, 90, 1]]}, Asked(ride=((20.0, 0.0, 1.0),))),
        ({"ride": []}, Asked(ride=())),
    ],
)
def test_what_cannot_be_read_is_left_at_its_default(kept, right):
    assert Asked.of(View(extra={"range": kept})) == right


def test_what_is_kept_comes_back():
    asked = Asked(31.5, 0.9, 0.2, ((12.0, -3.0, 1.5),))
    assert Asked.of(View(extra={"range": asked.kept()})) == asked


def test_an_empty_ride_is_no_ride(compared):
    view = View(extra={"range": {"ride": []}})
    ranged.work(compared, view)
    assert "Add a stretch" in str(how_far.body(compared, view))
    assert [c.key for c in how_far.columns(compared, view)] == ["far", "per-km", "goal", "care"]
