"""What a run is timed to, typed on its page as a browser sends it."""

import pytest

from curves import load_job
from dashboard.app import create_app
from dashboard.pages.runs.study import Asked
from dashboard.state.session import View
from tests.asking import inside

USUAL = Asked()
STANDS = {
    "run_speeds": ["20 mph", "30 mph"],
    "run_distances": ["60 ft", "660 ft"],
    "run_roll_out": False,
    "run_equal": False,
    "run_watts": "",
}
TYPED = {
    "run-speeds.value": ({"run_speeds": ["20 mph", "40 km/h"]}, "speeds_kmh", (32.18688, 40.0)),
    "run-distances.value": ({"run_distances": ["60 ft"]}, "distances_ft", (60.0,)),
    "run-roll-out.checked": ({"run_roll_out": True}, "roll_out", True),
    "run-equal.checked": ({"run_equal": True}, "equal", True),
    "run-watts.value": ({"run_watts": 750}, "watts", 750.0),
}


@pytest.fixture(scope="module")
def page():
    return inside(create_app(load_job()))


@pytest.mark.parametrize("changed", TYPED)
def test_what_is_typed_is_kept(page, changed):
    given, name, value = TYPED[changed]
    said = page.ask("view.data", changed, **{**STANDS, **given}, view=View().data())
    (change,) = said["view.data"]["operations"]
    assert change["location"] == ["extra", "runs"]
    kept = Asked.of(View.parse({"extra": {"runs": change["params"]["value"]}}))
    assert getattr(kept, name) == value
    others = set(vars(USUAL)) - {name}
    assert {other: getattr(kept, other) for other in others} == {
        other: getattr(USUAL, other) for other in others
    }
