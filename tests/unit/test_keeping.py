"""A callback gives back its own change of the view, and nothing that another changed meanwhile."""

from dataclasses import replace

from dashboard.state.session import View
from dashboard.widgets.patch import keep


def places(patch):
    return sorted(tuple(step["location"]) for step in patch.to_plotly_json()["operations"])


def test_only_what_differs_is_given_back():
    before = View(extra={"heat": {"slot": 1}, "runs": {"equal": True}})
    assert places(keep(before, replace(before, pinned_kmh=(30.0,)))) == [("pinned_kmh",)]
    now = replace(before, extra={**before.extra, "heat": {"slot": 2}})
    assert places(keep(before, now)) == [("extra", "heat")]
    assert places(keep(before, before)) == []
