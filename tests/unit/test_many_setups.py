"""Hundreds of setups in one job: what is asked of them grows with their number, not its square."""

import json
import sys
from dataclasses import replace

import numpy as np
import pytest

from curves import dump_job, load_job
from curves.parts.base import Table
from curves.parts.job import build_job
from curves.studies.tops import Tops
from curves.words.which_pack import which_pack
from dashboard.answers import setups as results
from dashboard.answers.curve import draw
from dashboard.app import create_app
from dashboard.pages.which_pack import figure_flags as flags
from dashboard.shell import carried
from dashboard.shell.part_form import part_form
from dashboard.shell.registry import pages
from dashboard.shell.shell import shell
from dashboard.state.session import MOST_SETUPS, Session, View
from dashboard.widgets.setups_table import setups_table
from tests.asking import inside
from tests.unit.component_tree import words


def calls(work):
    """How many functions are called, a measure of work that no busy machine changes."""
    count = 0

    def seen(_frame, event, _arg):
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(seen)
    try:
        work()
    finally:
        sys.setprofile(None)
    return count


FOUR_TIMES = 6
"""Four times the setups may ask for four times the work, and half as much again for luck."""


def ends(count):
    rng = np.random.default_rng(count)
    return (900 - 300 * rng.random(count)).tolist(), (20 + 100 * rng.random(count)).tolist()


def test_names_at_ends_of_lines():
    few, many = (calls(lambda n=n: flags.place(*ends(n), 1000)) for n in (50, 200))
    assert many < FOUR_TIMES * few


def crossings(at, lane, feet, boxes, lanes):
    behind = sum(lane <= n and boxes[at][0] < feet[k] < boxes[at][1] for k, n in lanes.items())
    return behind + sum(
        n <= lane and boxes[k][0] < feet[at] < boxes[k][1] for k, n in lanes.items()
    )


@pytest.mark.parametrize("count", [1, 2, 7, 40])
def test_each_name_takes_the_lane_that_crosses_least(count):
    """Asked lane by lane and name by name."""
    feet, widths = ends(count)
    placed = flags.place(feet, widths, 1000)
    boxes = [
        (x, x + flags.GAP + w) if f.right else (x - flags.GAP - w, x)
        for x, w, f in zip(feet, widths, placed, strict=True)
    ]
    lanes = {}
    for at in sorted(range(count), key=lambda k: (not placed[k].right, -feet[k], k)):
        free = [
            lane
            for lane in range(count)
            if not any(
                n == lane
                and boxes[at][0] < boxes[k][1] + flags.GAP
                and boxes[k][0] < boxes[at][1] + flags.GAP
                for k, n in lanes.items()
            )
        ]
        lanes[at] = min(free, key=lambda n, at=at: (crossings(at, n, feet, boxes, lanes), n))
    assert [f.lane for f in placed] == [lanes[k] for k in range(count)]


def rigs_of(count):
    """Setups with a tune and a pack of their own each, that differ in nothing."""
    (rig,) = load_job().rigs()[:1]
    return [
        replace(
            rig,
            name=f"setup {k}",
            tune=rig.tune.model_copy(update={"pack_current_a": 20.0 + k // 2}),
            pack=rig.pack.model_copy(update={"cell_resistance_mohm": 20.0 + k}),
        )
        for k in range(count)
    ]


def test_the_sentence_about_packs(monkeypatch):
    compared = 0
    same = Table.__eq__

    def counted(a, b):
        nonlocal compared
        compared += 1
        return same(a, b)

    monkeypatch.setattr(Table, "__eq__", counted)

    def asked(count):
        nonlocal compared
        compared = 0
        speed = np.linspace(8.0, 12.0, count)
        known = Tops(speed, speed, speed, (("voltage",),) * count)
        rigs = rigs_of(count)
        return compared + calls(lambda: which_pack(rigs, known=known))

    few, many = asked(50), asked(200)
    assert many < FOUR_TIMES * few


def test_a_sentence_names_a_few_setups_and_counts_the_rest():
    rigs = rigs_of(60)
    goals = load_job().goals.model_copy(update={"top_speed_kmh": 36.0, "hill": None})
    speed = np.linspace(9.0, 12.0, 60)
    said = which_pack(rigs, goals, known=Tops(speed, speed, speed, (("voltage",),) * 60)).more
    met = int(np.sum(speed >= 10.0))
    assert any(f"met full by {met} of 60 setups" in line for line in said), said


def job_of(count):
    tree = load_job().tree()
    rows = [{**tree["setup"][k % 6], "name": f"setup {k}"} for k in range(count)]
    return build_job({**tree, "setup": rows, "compare_to": f"setup {count - 1}"}, name="job")


@pytest.fixture(scope="module")
def session():
    return Session.of(job_of(300))


def test_a_page_has_a_bounded_number_of_setups(session, monkeypatch):
    asked = []
    monkeypatch.setattr(results, "draw", lambda rigs: asked.extend(rigs) or draw(rigs))
    results.forget()
    # As a file, a link and the browser's memory bring it: none of them hides anything.
    for found in (session, Session.parse({"tree": session.job.tree(), "hidden": []})):
        compared = results.compare(found.show_all(0))
        assert len(compared.readings) == len(compared.shown) == MOST_SETUPS
        assert compared.reference.name == "setup 299"
    assert len(asked) <= MOST_SETUPS
    made = words(shell(session, View(), pages()[0]))
    assert "40 of 300 setups are on this page. 260 are left out" in made
    rows = json.dumps(setups_table(session, View().units))
    assert '"Name of setup 299"' in rows
    assert '"Name of setup 45"' not in rows
    assert carried.setups(compared, []).rows[-1][0] == "setup 299"


def test_what_is_left_out_may_be_chosen(session):
    page = inside(create_app(session.job))
    wanted = [str(slot) for slot in (7, 120, 299)]
    found = page.ask("session", "listed-pick.value", listed_pick=wanted, session=session.data())
    chosen = Session.parse(found["session.data"])
    assert chosen.listed == (7, 120, 299)
    assert [r.name for r in results.compare(chosen).readings] == [
        "setup 7", "setup 120", "setup 299"]  # fmt: skip
    assert dump_job(chosen.job) == dump_job(session.job)


def test_one_that_is_hidden_leaves_the_page(session):
    assert 0 not in session.toggle(0).listed
    few = Session.of(load_job())
    assert few.toggle(0).listed == few.slots


def test_no_setup_is_refused_in_silence():
    session = Session.of(job_of(MOST_SETUPS))
    page = inside(create_app(session.job))
    act = {"slot": 0, "do": "duplicate", "turn": 1}
    found = page.ask("message", "acted.data", acted=act, session=session.data())
    assert "none beyond 40 setups: remove one first" in found["message.children"]
    assert "session.data" not in found


def test_a_part_of_hundreds_of_setups_names_those_of_the_page(session):
    made = words(part_form(session, "bike", next(iter(session.job.bike)), View().units))
    assert "260 more that are not on this page" in made
