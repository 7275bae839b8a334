"""The first page's plots, on their traces: what is drawn is what was worked out."""

import base64
import itertools
import math

import numpy as np
import plotly.graph_objects as go
import pytest

from curves import load_job
from dashboard.answers.setups import compare
from dashboard.base import theme
from dashboard.figures.spec import packed, round_up, unpacked
from dashboard.pages.which_pack import figure as panels
from dashboard.pages.which_pack import figure_flags as flags
from dashboard.pages.which_pack import figure_strips as bands
from dashboard.pages.which_pack.figure_scale import PANELS
from dashboard.pages.which_pack.page import roads_of
from dashboard.state.session import Session, View


@pytest.fixture(scope="module")
def compared():
    return compare(Session.of(load_job()))


def made(compared, width=1200, unit="km/h", pinned=(25.0,)):
    frame = panels.frame(compared.shown, width, unit, [p.key for p in PANELS])
    roads = roads_of(compared, View(), frame.last_kmh)
    return panels.build(compared, roads, pinned, frame), frame, roads


LINES = panels.lines_of(())


def lines(figure, name):
    return [t for t in figure["data"] if t["type"] == "scatter" and t.get("name") == name]


def test_plotly_takes_the_figure(compared):
    figure, *_ = made(compared)
    assert len(go.Figure(figure).data) == len(figure["data"])


def test_a_panel_a_quantity_over_one_axis(compared):
    figure, *_ = made(compared)
    drawn = lines(figure, "13 cells")
    assert len(drawn) == len(LINES)
    assert len({t.get("yaxis", "y") for t in drawn}) == len(LINES)
    # Every line is read against the same speeds.
    assert {t.get("xaxis", "x") for t in drawn} == {"x"}
    titles = [n["text"] for n in figure["layout"]["annotations"]]
    assert all(any(p.title in text for text in titles) for p in PANELS)


def test_lines_are_the_curves(compared):
    figure, *_ = made(compared)
    reading = compared.shown[1]
    for trace, panel in zip(lines(figure, reading.name), LINES, strict=True):
        x, y = unpacked(trace["x"]), unpacked(trace["y"])
        # Single precision on the wire: 24 bits.
        assert np.allclose(x, reading.curve.speed, rtol=2**-22)
        assert np.allclose(y, panel.read(reading.curve), rtol=2**-22, atol=1e-9, equal_nan=True)


def test_miles_an_hour_are_another_scale_of_the_same(compared):
    x = unpacked(lines(made(compared)[0], "13 cells")[0]["x"])
    miles = unpacked(lines(made(compared, unit="mph")[0], "13 cells")[0]["x"])
    assert np.allclose(miles * 1.609344, x, rtol=1e-6)  # the international mile


def test_colour_is_the_setups_in_every_panel_and_lines_are_solid(compared):
    figure, *_ = made(compared)
    for reading in compared.shown:
        drawn = lines(figure, reading.name)
        assert {t["line"]["color"] for t in drawn} == {theme.mark(reading.slot).colour}
        assert not any("dash" in t["line"] for t in drawn)


def test_top_speeds_lie_on_the_road(compared):
    figure, _, roads = made(compared)
    (tops,) = [t for t in figure["data"] if t.get("meta") == "top"]
    assert tops["x"] == [r.curve.top for r in compared.shown]
    level = next(r for r in roads if "level" in r.name)
    # One line stands for bikes whose packs differ by grams.
    on_line = np.interp(tops["x"], level.speed, level.force)
    assert np.allclose(tops["y"], on_line, rtol=0.03)


def test_every_line_is_named_where_it_ends(compared):
    figure, *_ = made(compared)
    named = [t for t in figure["data"] if t.get("mode") == "text" and "as delivered" in t["text"]]
    assert len(named) == len(LINES)
    ends = {r.name: r.curve.speed for r in compared.shown}
    for x, name in zip(named[0]["x"], named[0]["text"], strict=True):
        assert x == pytest.approx(ends[name][-1], rel=1e-6)


def test_what_moves_is_all_that_differs():
    """The old figure with what moves in it is the new one, whatever number of a pack changed."""
    session = Session.of(load_job())
    before, after = compare(session), compare(session.edit(("pack", "cells-13", "series"), 14))
    old, frame, roads = made(before)
    new, new_frame, new_roads = made(after, pinned=(32.0,))
    same = panels.structure(before, roads, (25.0,), frame)
    assert same == panels.structure(after, new_roads, (32.0,), new_frame)
    for trace, change in zip(old["data"], panels.moving(new["data"]), strict=True):
        trace.update(change)
    assert old["data"] == new["data"]


def test_braking_has_a_panel_where_a_motor_brakes():
    compared = compare(Session.of(load_job()).edit(("tune", "town", "regen_pack_current_a"), 8.0))
    figure, *_ = made(compared)
    *_, panel = panels.panels_of(compared.shown, ())
    assert panel.key == "braking"
    strongest = np.nanmax(panel.read(compared.shown[1].curve))
    assert strongest > 0
    titles = [n["text"] for n in figure["layout"]["annotations"]]
    assert any(panel.title in text for text in titles)
    # A motor that does not brake has no name in that panel.
    (names,) = [t["text"] for t in figure["data"] if t.get("mode") == "text"
                and "13 cells" in t["text"] and t["yaxis"] == "y7"]  # fmt: skip
    assert "13 cells, weakened" not in names


@pytest.mark.parametrize("count", [0, 1, 12])
def test_none_one_and_twelve(count):
    session = Session.of(load_job())
    while len(session.slots) < count:
        session = session.duplicate(session.slots[0])
    for slot in session.slots[count:]:
        session = session.toggle(slot)
    figure, *_ = made(compare(session))
    assert len(go.Figure(figure).data) > 0
    assert len(lines(figure, "as delivered")) == (len(LINES) if count else 0)


def test_users_text_is_text():
    name = "<b>x</b> & <img src=x onerror=alert(1)>"
    session = Session.of(load_job()).edit_setup(1, "name", name)
    figure, *_ = made(compare(session))

    def texts(value):
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            for key, item in value.items():
                yield from [] if key == "bdata" else texts(item)
        elif isinstance(value, list):
            for item in value:
                yield from texts(item)

    said = [t for t in texts(figure) if "img" in t or "onerror" in t]
    assert said
    assert not any("<img" in t or "<b>x" in t for t in said)


def test_a_bike_that_cannot_start_is_drawn_without_a_top_speed():
    session = Session.of(load_job()).edit(("conditions", "grade_percent"), 30.0)
    figure, *_ = made(compare(session))
    (tops,) = [t for t in figure["data"] if t.get("meta") == "top"]
    assert tops["x"] == []
    assert any("cannot start" in t for d in figure["data"] for t in d.get("text", []))


def test_stretches_cover_the_line_and_tell_the_words(compared):
    curve = compared.shown[1].curve
    found = bands.stretches(curve)
    assert found[0].start == 0
    assert found[-1].end == pytest.approx(curve.end)
    for one, next_one in itertools.pairwise(found):
        assert one.end == next_one.start
        assert one.words != next_one.words
    assert found[0].words == ("phase current",)
    assert ("power cap",) in [s.words for s in found]


def test_hatching_differs_by_word():
    assert len({bands.HATCHING[w] for w in list(bands.HATCHING)[:6]}) == 6


def test_flags_do_not_overlap():
    rng = np.random.default_rng(7)
    for _ in range(200):
        count = int(rng.integers(1, 13))
        feet, widths = rng.uniform(0, 900, count), rng.uniform(20, 200, count)
        placed = flags.place(feet, widths, 1000)
        boxes = [
            (x if f.right else x - flags.GAP - w, f.lane, w)
            for x, w, f in zip(feet, widths, placed, strict=True)
        ]
        for k, (left, lane, wide) in enumerate(boxes):
            for other, at, w in boxes[k + 1 :]:
                assert lane != at or left + wide <= other or other + w <= left


def test_round_tops():
    assert [round_up(x) for x in (0.9, 1.0, 1.01, 224, 999, 0.0, math.nan)] == [
        1.0, 1.0, 1.2, 250, 1000, 1.0, 1.0,
    ]  # fmt: skip


def test_numbers_travel_as_typed_arrays():
    spec = packed([1.0, math.nan, 2.5])
    assert len(base64.b64decode(spec["bdata"])) == 12
    assert np.array_equal(unpacked(spec), [1.0, math.nan, 2.5], equal_nan=True)


def luminance(colour: str) -> float:
    # WCAG 2.2, relative luminance.
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_lines_are_seen_on_both_papers(scheme):
    paper = theme.TOKENS[scheme]["card"]
    colours = {theme.mark(slot).colour for slot in range(84)} | {theme.NEUTRAL}
    # WCAG 2.2, 1.4.11: graphics have 3 to 1.
    assert min(contrast(colour, paper) for colour in colours) >= 3
    for words in ("ink", "soft"):
        # 1.4.3: text has 4.5 to 1.
        assert contrast(theme.TOKENS[scheme][words], paper) >= 4.5
        assert contrast(theme.TOKENS[scheme][words], theme.TOKENS[scheme]["page"]) >= 4.5


def test_no_two_of_84_setups_look_alike():
    marks = {(theme.mark(slot).colour, theme.mark(slot).symbol) for slot in range(84)}
    assert len(marks) == 84
