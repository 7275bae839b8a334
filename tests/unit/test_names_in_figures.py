"""Names in figures stand where nothing else is: marks of the axis, shares, regions."""

import numpy as np
import pytest

from dashboard.figures import bars, lines, uprights
from dashboard.figures.spec import CARD, CHARACTER
from dashboard.figures.uprights import ROW
from dashboard.pages.two_inputs import figure as regions


def figure(width=320):
    x = np.linspace(0.0, 80.0, 20)
    panels = [lines.Panel(t, "W", 150, [lines.Line(0, "a", x, x)]) for t in ("One", "Two")]
    return lines.build(panels, "current, A", 80.0, width)


@pytest.mark.parametrize("width", [320, 1200])
@pytest.mark.parametrize(
    "values", [(5.0, 29.0, 29.0, 80.0), (29.0, 30.0, 31.0, 32.0), (79.0, 80.0)]
)
def test_names_of_marks_stand_above_the_panel_and_run_into_nothing(width, values):
    plain, made = figure(width), figure(width)
    names = [f"name number {k}" for k in range(len(values))]
    uprights.mark(made, list(zip(values, names, strict=True)))
    notes = [a for a in made["layout"]["annotations"] if a.get("xref") == "x"]
    assert [a["text"] for a in notes] == names
    scale = made["layout"]["meta"]["across"] / 80.0
    spans = []
    for a in notes:
        assert (a["y"], a["yanchor"]) == (1, "bottom")
        x, long = a["x"] * scale, len(a["text"]) * CHARACTER
        spans.append(
            (x, *((x, x + long) if a["xanchor"] == "left" else (x - long, x)), a["yshift"])
        )
    for k, (_, left, right, up) in enumerate(spans):
        for other, start, end, at in spans[:k] + spans[k + 1 :]:
            assert up != at or right <= start or end <= left
            # Nor does the line to a higher name pass through a lower one.
            assert at <= up or not left < other < right
    added = made["layout"]["height"] - plain["layout"]["height"]
    assert added == max(up for *_, up in spans) + ROW
    assert made["layout"]["margin"]["t"] - plain["layout"]["margin"]["t"] == added
    assert made["layout"]["annotations"][0]["yshift"] == 8 + added


def test_marks_do_not_cross_the_titles_and_stay_on_the_axis():
    made = figure()
    uprights.mark(made, [(10.0, "here"), (99.0, "beyond"), (float("nan"), "nowhere")])
    domains = [made["layout"][key]["domain"] for key in ("yaxis", "yaxis2")]
    spans = [(s["y0"], s["y1"]) for s in made["layout"]["shapes"]]
    assert spans[1] == tuple(domains[1])
    assert spans[0][0] == domains[0][0]
    assert spans[0][1] > 1
    assert len(spans) == 2
    bare = figure()
    uprights.mark(bare, [(99.0, "beyond")])
    assert bare["layout"] == figure()["layout"]


def test_a_share_that_would_stand_on_the_mark_stands_behind_it():
    some = [("a", 1.2), ("b", 0.98), ("c", 0.85), ("d", 0.3)]
    bar, behind = bars.build(0, some, 360, "all of it")["data"]
    assert bar["textposition"] == ["outside", "none", "none", "outside"]
    assert (behind["y"], behind["x"]) == (["b", "c"], [1.0, 1.0])
    assert [x.strip() for x in behind["text"]] == ["98 %", "85 %"]
    wide, none = bars.build(0, some[2:], 1200, "all of it")["data"]
    assert wide["textposition"] == ["outside", "outside"]
    assert none["y"] == []
    assert bars.build(0, some, 360)["data"][1]["y"] == []


def test_names_of_regions_stand_on_paper():
    x = y = np.linspace(0.0, 10.0, 12)
    cells = np.zeros((12, 12), dtype=bool)
    cells[:, :6] = True
    some = [regions.Region("voltage", cells), regions.Region("power cap", ~cells)]
    point = regions.Point(0, "a", 2.0, 5.0)
    made = regions.build(x, y, np.add.outer(y, x), some, ("x", "y", "z"), point, 400)
    notes = made["layout"]["annotations"]
    assert {a["text"] for a in notes} == {"voltage", "power cap"}
    assert all(a["bgcolor"] == CARD for a in notes)
