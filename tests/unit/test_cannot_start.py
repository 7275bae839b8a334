"""A setup that cannot start is told of in a sentence on the pages of heat and range."""

import pytest

from curves import load_job
from curves.parts.job import build_job
from dashboard import ranged, warmed
from dashboard.pages import how_far, stay_cool
from dashboard.results import compare
from dashboard.state import Session, View


def spoken(page, with_others):
    tree = load_job().tree()
    tree["tune"]["weak"] = {"phase_current_a": 1.0, "pack_current_a": 1.0}
    first = tree["setup"][0]
    weak = {**first, "name": "too weak", "tune": "weak"}
    tree["setup"] = [first, weak] if with_others else [weak]
    tree["compare_to"] = tree["setup"][0]["name"]
    compared = compare(Session.of(build_job(tree, name="job")))
    for asked in (warmed, ranged):
        asked.work(compared, View())
    return str(page.answer(compared, View())).replace(r"\xa0", " ")


@pytest.mark.parametrize(
    ("page", "among_others", "alone"),
    [
        (stay_cool, "“too weak” cannot start on it.", "No setup can start on 8 %."),
        (how_far, "“too weak” does not hold that speed", "no setup goes on"),
    ],
)
def test_it_is_told(page, among_others, alone):
    both, weak = spoken(page, with_others=True), spoken(page, with_others=False)
    assert among_others in both
    assert "“as delivered” climbs 3.6 km" in both or "“as delivered” goes" in both
    assert alone in weak
    assert "cannot start on it" not in weak
