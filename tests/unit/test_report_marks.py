"""A setup has one colour and one shape: those of its slot on the page, all through the report."""

import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest

from curves import load_job
from curves.present.marks import COLOURS, OUTLINES
from curves.report import Wish, report, results
from curves.report.plot import WIDE
from dashboard.answers.setups import compare
from dashboard.base import theme
from dashboard.pages.report import study as reported
from dashboard.pages.report.page import _page
from dashboard.state.session import Session, View
from dashboard.widgets.progress import Task

DRAWN = re.compile(r'<svg [^>]*?role="img".*?</svg>', re.DOTALL)
NAMED = re.compile(r'<span class="name">(<svg.*?</svg>)<bdi>(.*?)</bdi>', re.DOTALL)


def shape_of(drawn):
    """Colour and shape of a mark by its corners, None for what is no mark."""
    colour = drawn.get("fill")
    if colour not in COLOURS:
        return None
    if drawn.tag == "circle":
        return colour, "circle"
    if drawn.tag != "polygon":
        return None
    corners = np.array([[float(v) for v in p.split(",")] for p in drawn.get("points").split()])
    corners -= corners.mean(axis=0)
    for name, outline in OUTLINES.items():
        if len(outline) == len(corners):
            wanted = np.array(outline) - np.mean(outline, axis=0)
            if np.allclose(corners / np.ptp(corners, axis=0)[1], wanted / np.ptp(wanted[:, 1]),
                           atol=0.03):  # fmt: skip
                return colour, name
    raise AssertionError(f"no shape has these corners: {corners}")


def marks_in(text):
    found = [shape_of(one) for one in ElementTree.fromstring(text).iter()]
    return [one for one in found if one]


def on_page(slot):
    return theme.mark(slot)[:2]


def lines_in(figure):
    drawn = ElementTree.fromstring(figure).iter("path")
    return [p.get("stroke") for p in drawn if p.get("stroke-width") == "2.2"]


def labels_in(figure):
    """The mark before each bold word of a figure."""
    drawn = list(ElementTree.fromstring(figure).iter())
    return {
        word.text: shape_of(before)
        for before, word in pairwise(drawn)
        if word.get("font-weight") == "600"
    }


def edited():
    """The second setup copied, the first removed: the copy is in the middle, with a new slot."""
    demo = load_job()
    session = Session.of(demo.replace("setup", demo.tree()["setup"][:4])).duplicate(1).remove(0)
    assert session.slots == (1, 4, 2, 3)
    return session


@pytest.mark.parametrize("hidden", [(), (1,), (4, 3)])
def test_a_setup_keeps_the_colour_and_shape_of_its_slot(hidden):
    session = replace(edited(), hidden=frozenset(hidden))
    compared = compare(session)
    slots = [r.slot for r in compared.shown]
    asked = {"endurance": False, "packs": slots[1:2], "weakening": slots[1:2]}
    view = View(extra={"report": asked})
    reported.work(compared, view, Task())
    page = _page(compared, view)
    wanted = {r.name: on_page(r.slot) for r in compared.shown}

    named = NAMED.findall(page)
    assert {name for _, name in named} == set(wanted)
    for swatch, name in named:
        assert marks_in(swatch) == [wanted[name]], name

    figures = [f for f in DRAWN.findall(page) if f'width="{WIDE:g}"' in f]
    over_speed = [f for f in figures if "for every setup" in f]
    limits = [f for f in figures if "What limits each setup" in f]
    studies = [f for f in figures if f not in over_speed + limits]
    assert (len(over_speed) > 1, len(limits), len(studies) > 1) == (True, 1, True)
    for figure in over_speed:
        assert lines_in(figure) == [theme.mark(slot).colour for slot in slots]
        assert list(dict.fromkeys(marks_in(figure))) == [on_page(slot) for slot in slots]
    assert labels_in(limits[0]) == wanted
    assert set(marks_in(limits[0])) == set(wanted.values())
    for figure in studies:
        assert set(lines_in(figure)) == {theme.mark(slots[1]).colour}
        assert set(marks_in(figure)) <= {on_page(slots[1])}


def test_other_slots_cost_no_new_results(monkeypatch):
    session = edited()
    view = View(extra={"report": {"endurance": False}})
    reported.work(compare(session), view, Task())
    monkeypatch.setattr(reported, "results", None)
    moved = reported.made(compare(replace(session, slots=(9, 8, 7, 6))), view)
    assert [moved.mark(k).colour for k in range(4)] == [
        theme.mark(slot).colour for slot in (9, 8, 7, 6)
    ]


def test_without_slots_the_places_in_the_job_count():
    job = edited().job
    places = report(job, Wish(endurance=False))
    assert places == report(job, Wish(endurance=False, slots=(0, 1, 2, 3)))
    assert places != report(job, Wish(endurance=False, slots=(1, 0, 2, 3)))
    with pytest.raises(ValueError, match="3 slots for 4 setups"):
        results(job, Wish(endurance=False, slots=(0, 1, 2)))
