"""The report: same job, same bytes; nothing from outside; no text of the user's is ever markup."""

import os
import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from curves import JobError, load_job, parse_job
from curves.motion.energy import steady_range
from curves.motion.heat import hill, time_to_limit
from curves.motion.runs import coupled_runs
from curves.parts.base import SOURCE_KINDS
from curves.parts.labels import NEARLY_EMPTY
from curves.parts.notes import NOT_GIVEN
from curves.parts.reading import CARRIED
from curves.report import PackStudy, WeakeningStudy, Wish, read_report, report, results
from curves.report.carried import carry
from curves.steady.balance import top_speed
from curves.studies.packs import pack_sweep
from curves.units import KMH, Units
from curves.words.digits import digits
from curves.words.hill import sentence as hill_sentence
from curves.words.packs import sentence as pack_sentence
from tests.unit.reading_html import Page, Tables

ROOT = Path(__file__).resolve().parents[2]
WEAKENED = "13 cells, weakened"
EVIL = "<img src=x onerror=alert(1)>"
WORSE = "\" onfocus=alert(3) x='&amp;</script><script>alert(2)</script><!--]]>{{7*7}}"
INKS = ("ink", "soft", "line")
FETCHING = ("src", "href", "srcset", "action", "data", "poster", "xlink:href", "background", "ping")
WISH = Wish(
    workshop="Wheel & Wire",
    notes="First <b>line</b>\nsecond line\n\nnext paragraph",
    date="2026-03-02",
    packs=(PackStudy("as delivered", tuple(range(9, 17))),),
    weakenings=(WeakeningStudy("13 cells, weakened", (0.0, 10.0, 20.0, 30.0)),),
)

QUICK = Wish(endurance=False)


@pytest.fixture(scope="module")
def demo():
    return load_job()


@pytest.fixture(scope="module")
def page(demo):
    return report(demo, WISH)


@pytest.fixture(scope="module")
def hostile(demo):
    """Markup wherever a job or a wish takes text."""
    job = demo.replace("setup.1.name", EVIL).replace("setup.2.name", WORSE)
    job = job.replace("title", f"{EVIL} {WORSE}").replace("compare_to", EVIL)
    tree = job.tree()
    tree["setup"] = tree["setup"][:3]
    tree["pack"][WORSE] = tree["pack"].pop("cells-16")
    tree["setup"][2]["pack"] = WORSE
    tree["motor"]["hub"]["sources"]["kv_rpm_per_v"] = f"measured {EVIL}"
    tree["tune"]["town"]["source"] = f"maker: {WORSE}"
    from curves.parts.job import build_job

    return build_job(tree, name="hostile")


@pytest.fixture(scope="module")
def hostile_page(hostile):
    return report(hostile, wished(hostile))


@pytest.fixture(scope="module")
def small(demo):
    """Two setups: quick, where no more are needed."""
    setups = [s for s in demo.tree()["setup"] if s["name"] in ("as delivered", WEAKENED)]
    return demo.replace("setup", setups).replace("goals", None)


def wished(hostile):
    return Wish(
        title=f"{EVIL} {WORSE}",
        notes=f"{EVIL}\n\n{WORSE}\n\x00\x1b\ud800end",
        workshop=WORSE,
        date=EVIL,
        to_set=(hostile.setup[1].name,),
        packs=(PackStudy(hostile.setup[1].name, (9, 10, 11)),),
        weakenings=(WeakeningStudy(hostile.setup[2].name, (0.0, 20.0)),),
    )


def test_the_same_job_gives_the_same_bytes_in_any_process(page):
    asked = (
        "import sys; from curves import load_job; from curves.report import report;"
        "from tests.unit.test_report import WISH;"
        "sys.stdout.buffer.write(report(load_job(), WISH).encode())"
    )
    said = subprocess.run(
        [sys.executable, "-c", asked],
        cwd=ROOT,
        env={**os.environ, "PYTHONHASHSEED": "77", "LC_ALL": "C"},
        capture_output=True,
        check=True,
    )
    assert said.stdout == page.encode()


def test_the_date_is_all_that_another_day_changes(small):
    there = report(small, Wish(date="2026-03-02", endurance=False))
    assert there.count("2026-03-02") == 2  # on the customer's page and on the controller's
    later = report(small, Wish(date="1999-12-31", endurance=False))
    assert later == there.replace("2026-03-02", "1999-12-31")


def test_the_job_comes_back_out(page, demo):
    assert read_report(page) == demo
    assert read_report(page).tree() == demo.tree()


def test_a_report_is_opened_wherever_a_job_is(page, demo, tmp_path):
    assert parse_job(page) == demo
    file = tmp_path / "letter.html"
    file.write_text(page, encoding="utf-8")
    assert load_job(file) == demo


def test_a_hostile_job_comes_back_out(hostile, hostile_page):
    assert read_report(hostile_page) == hostile


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is no report"),
        ('format = "rimforce-job-1"', "is no report"),
        ("<html>a page</html>", "carries no job"),
        ('<script type="application/json" id="rimforce-job">{"format": 1}</script>', "format"),
        ('<script type="application/json" id="rimforce-job">{]</script>', "JSON"),
        (2 * '<script type="application/json" id="rimforce-job">{}</script>', "more than one"),
    ],
)
def test_what_is_no_report_is_refused(text, said):
    with pytest.raises(JobError, match=said):
        read_report(text, name="letter.html")


def test_no_text_of_the_users_becomes_markup(hostile_page):
    page = Page(hostile_page)
    assert not page.faults
    assert not page.all("img")
    assert not page.all("b ")
    assert [a.get("id") for a in page.all("script")] == ["rimforce-job"]
    assert page.all("script")[0]["type"] == "application/json"
    handlers = [n for _, attributes in page.elements for n in attributes if n.startswith("on")]
    assert not handlers
    for text in (EVIL, WORSE):
        # In the title, the tables, the legends, the drawings, the notes: text and nothing else.
        assert page.text().count(text) > 10


def test_the_job_inside_a_page_can_neither_end_it_nor_swallow_what_follows(hostile):
    text = carry(hostile.replace("title", "</script <!--<script >&lt;"))
    inside = text.removeprefix(CARRIED).removesuffix("</script>")
    assert len(inside) == len(text) - len(CARRIED) - len("</script>")
    # A comment with a script opened in it, say, would go on to the end of the page.
    assert not set("<>&") & set(inside)


def test_characters_that_no_page_may_hold_are_replaced(hostile_page):
    hostile_page.encode("utf-8")
    assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f]", hostile_page)
    assert "\ufffd\ufffd\ufffdend" in hostile_page


def test_nothing_is_fetched(page):
    parsed = Page(page)
    for name, attributes in parsed.elements:
        for key, value in attributes.items():
            if key in FETCHING:
                assert value.startswith("#"), (name, key, value)
            for inside in re.findall(r"url\((.*?)\)", value or "") if key != "content" else []:
                assert inside.startswith("#")
    assert {name for name, _ in parsed.elements}.isdisjoint(
        ("iframe", "object", "embed", "link", "base", "img", "audio", "video", "form")
    )
    style = "".join(data for path, data in parsed.texts if path[-1:] == ["style"])
    assert all(u.strip("\"'").startswith("data:") for u in re.findall(r"url\((.*?)\)", style))
    assert "@import" not in style
    assert not re.search(r"https?://", style)
    policy = next(a["content"] for a in parsed.all("meta") if "http-equiv" in a)
    assert policy.startswith("default-src 'none'")
    assert "script-src" not in policy


def test_links_and_patterns_lead_somewhere(page):
    parsed = Page(page)
    ids = [a["id"] for _, a in parsed.elements if "id" in a]
    assert len(ids) == len(set(ids))
    wanted = {a["href"][1:] for a in parsed.all("a")}
    wanted |= set(re.findall(r"url\(#(.*?)\)", page))
    assert len(wanted) > 20
    assert wanted <= set(ids)


def test_the_page_is_sound_html(page):
    assert page.startswith("<!DOCTYPE html>\n")
    assert 'charset="utf-8"' in page[:200]
    parsed = Page(page)
    assert not parsed.faults
    assert parsed.all("html") == [{"lang": "en"}]
    assert len(parsed.all("h1")) == len(parsed.all("title")) == len(parsed.all("main")) == 1
    tables, captions = len(parsed.all("table")), len(parsed.all("caption"))
    assert tables == captions > 15
    assert all(a.get("scope") in ("col", "row") for a in parsed.all("th"))
    for drawing in parsed.all("svg"):
        assert drawing.get("aria-hidden") == "true" or (
            drawing["role"] == "img" and drawing["aria-label"]
        )
    levels = [int(name[1]) for name, _ in parsed.elements if re.fullmatch(r"h[1-6]", name)]
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_every_row_has_as_many_cells_as_there_are_columns(page):
    for caption, rows in Tables(page).tables.items():
        assert len({len(row) for row in rows}) == 1, caption


def test_it_leads_with_the_question_and_its_answer(page, demo):
    text = Page(page).text()
    assert "Wheel & Wire" in text
    asked, said = text.index(demo.title), text.index("With 1,200 W, 13 cells are enough")
    assert asked < said < text.index("What each setup comes to")


def test_notes_keep_their_lines_and_paragraphs(page):
    assert "<p>First &lt;b&gt;line&lt;/b&gt;<br>second line</p><p>next paragraph</p>" in page


def test_top_speeds_and_limits_are_the_librarys(page, demo):
    top = top_speed(demo.rigs())
    rows = Tables(page).tables["Top speed and what would move it"]
    for k, row in enumerate(rows[1:]):
        assert row[0] == top.names[k]
        said, _, half = row[1].partition(" ± ")
        assert abs(float(said) - top.speed[k] / KMH) <= 0.5  # no finer than its band
        assert 1 <= float(half) <= 5
        assert row[2] == " and ".join(top.limited_by[k])
    power = next(row for row in rows if row[0] == "13 cells")
    per_watt = top.gain["kmh_per_w"][1]
    assert power[rows[0].index("100 W more")] == f"+{100 * per_watt:.1f}"
    assert power[rows[0].index("One more ampere from the pack")] == "nothing"


def test_runs_are_the_librarys(page, demo):
    runs = coupled_runs(demo.rigs()).runs
    rows = Tables(page).tables["Times of runs, seconds"]
    for k, row in enumerate(rows[1:]):
        times = [*runs.speed_time[k], *runs.distance_time[k]]
        for cell, seconds in zip(row[1:], times, strict=True):
            if np.isnan(seconds):
                assert cell == "not reached"
            else:
                said, _, half = cell.split("at ")[0].partition(" ± ")
                # Rounded to the first digit of its band, which is wide near the top speed.
                assert abs(float(said) - seconds) < float(half)
                assert 0.01 * seconds < float(half) < 0.25 * seconds


def test_heat_and_range_are_the_librarys(page, demo):
    rigs = demo.rigs()
    top = top_speed(rigs)
    warming = time_to_limit(rigs, top.speed)
    climbed = hill(rigs, 0.08, 700.0, 15 * KMH)
    far = steady_range(rigs, np.array([20.0, 30.0, 40.0]) * KMH)
    warm, long = (Tables(page).tables[name] for name in ("Heat", "Distance on one charge"))
    for k in range(len(rigs)):
        assert warm[k + 1][1] == digits(warming.settled.winding_c[k], 2)
        assert warm[k + 1][2:4] == ["130", "never"]
        assert warm[k + 1][5].startswith(digits(climbed.longest[k] / 1000, 2))
        for cell, metres in zip(long[k + 1][1:], far.distance[k], strict=True):
            if np.isnan(metres):
                assert cell == "not held"
            else:
                said, _, half = cell.split(" meets")[0].split(" short")[0].partition(" ± ")
                assert abs(float(said) - metres / 1000) < float(half)
                assert ("meets 35" in cell) == (metres >= 35_000)
    assert hill_sentence(climbed, 0) in Page(page).text()


def test_a_motor_without_heat_values_says_so(small):
    motor = {k: v for k, v in small.tree()["motor"]["hub"].items() if k != "profile"}
    kept = {k: v for k, v in motor.items() if "_w_per_k" not in k and "_j_per_k" not in k}
    for notes in ("sources", "tolerance"):
        kept[notes] = {k: v for k, v in motor[notes].items() if k in kept}
    text = Page(report(small.replace("motor.hub", kept))).text()
    assert "The job gives no heat values" in text
    assert "Distance on one charge" in text


def test_studies_are_there_when_asked_for(page, demo):
    text = Page(page).text()
    charges = (1.0, 0.5, NEARLY_EMPTY)
    swept = pack_sweep(demo.rig("as delivered"), range(9, 17), charge=charges)
    assert pack_sentence(swept) in text
    assert "How much field weakening for “13 cells, weakened”?" in text


def test_the_band_of_limits_has_no_gap_and_is_the_envelopes(demo):
    from curves.report.stretches import stretches
    from curves.steady.envelope import envelope, words

    found = results(demo, QUICK)
    for k, rig in enumerate(found.rigs):
        made = stretches(found, k)
        assert made[0].start == 0
        assert made[-1].end == found.lines.speed[k, -1]
        for a, b in pairwise(made):
            assert a.end == b.start
            assert a.words != b.words
        middles = np.array([(s.start + s.end) / 2 for s in made])
        there = envelope([rig], middles)
        assert [tuple(words(row)) for row in there.limited[0]] == [s.words for s in made]


def test_every_input_says_where_it_comes_from(page):
    tables = Tables(page).tables
    rows = tables["Motor “hub”"] + tables["Pack “cells-13”"] + tables["Bike “cargo”"]
    body = [row for row in rows if row[0] != "Input"]
    assert len(body) > 30
    for row in body:
        assert row[3].lower().startswith((*SOURCE_KINDS, "not said", "not given")), row
    by_name = {row[0]: row for row in body}
    assert by_name["Winding resistance, terminal to terminal at 20 °C"][1:3] == ["0.165 Ω", "3 %"]
    assert by_name["Published open-circuit curve the cells follow"][3].startswith("typical")
    assert by_name["Efficiency from motor output to wheel"][3].startswith("not given")
    assert "J. Electrochem. Soc." in Page(page).text()


def test_a_plain_job_has_no_studies_and_says_what_is_not_said(small):
    page = report(small.replace("bike.cargo.source", None), QUICK)
    assert 'id="studies"' not in page
    assert Tables(page).tables["Bike “cargo”"][1][3] == NOT_GIVEN


def test_the_settings_are_old_and_new_with_their_basis(small):
    job = small.replace("tune.weakened.current_basis", "rms")
    job = job.replace("controller.sine.max_phase_current_a", 140.0)
    page = report(job, Wish(to_set=(WEAKENED,), endurance=False))
    tables = Tables(page).tables
    rows = {row[0]: row[1:4] for row in tables["Settings of 13 cells, weakened"]}
    # 75 A peak is 75/√2 rms, 75 A rms is 75·√2 peak; 25 A rms likewise (derived).
    assert rows["Phase current"][1:] == ["75 A peak (53.0 rms)", "75 A rms (106.1 peak)"]
    assert rows["Field weakening"][1:] == ["off", "25 A rms (35.4 peak)"]
    # The job's 30 V are below the BMS's cut-off: the old is told, the new is what is right.
    assert rows["Cut-off of the controller"][1:] == ["30 V", "36.4 V (the BMS opens there)"]
    assert rows["Cut-off of the pack (its BMS)"][1:] == ["28 V", "36.4 V"]
    assert "<b>36.4 V</b>" in page
    assert "<b>30 V</b>" not in page
    assert "Settings of as delivered" not in tables
    constants = {row[0]: row[2] for row in tables["Constants of motor hub"]}
    # Flux linkage 60 / (2π √3 · 20 · 8.4) Wb (derived from the model's definition of Kv).
    assert constants["Flux linkage"] == "32.82"
    assert constants["Resistance"] == "165; 82.5"


def test_the_first_ride_expects_what_the_library_says(small, demo):
    tables = Tables(report(small, Wish(to_set=(WEAKENED,), endurance=False))).tables
    head, row = tables["What to expect on the first ride"]
    plain = top_speed([demo.rig("13 cells")])
    weakened = top_speed([demo.rig(WEAKENED)])
    said = dict(zip(head, row, strict=True))
    free = digits(plain.no_load_speed[0] / KMH, 2)
    assert said["Wheel off the ground km/h, no weakening"] == free
    assert said["Top speed km/h, weakened"] == digits(weakened.speed[0] / KMH, 2)
    assert said["Cut-offs V, controller; BMS"] == "36.4; 36.4"


def test_speeds_in_mph(small):
    page = report(small, Wish(units=Units.of(["mph"]), endurance=False))
    row = Tables(page).tables["Modes and classes of vehicle"][1]
    top = top_speed(small.rigs()).speed[0]
    assert row[1] == digits(top / 0.44704)
    assert "road speed, mph" in page
    assert "road speed, km/h" not in page


def test_a_job_that_compares_to_nothing_and_cannot_start(small):
    job = small.replace("compare_to", None).replace("conditions.grade_percent", 60.0)
    text = Page(report(job, QUICK)).text()
    assert "cannot start" in text
    assert "the job names no setup to compare to" in text


def test_what_does_not_exist_is_refused(demo):
    with pytest.raises(JobError, match="no such setup"):
        report(demo, Wish(to_set=("nobody",)))
    with pytest.raises(JobError, match="no such setup"):
        report(demo, Wish(packs=(PackStudy("nobody", (10, 11)),)))
    with pytest.raises(JobError, match="rise"):
        report(demo, Wish(weakenings=(WeakeningStudy("13 cells", (5.0, 0.0)),)))


def test_it_tells_how_far_it_is_and_ends_when_that_raises(small):
    wish = Wish(packs=(PackStudy("as delivered", (10, 11)),), endurance=False)
    told = []
    results(small, wish, lambda *said: told.append(said))
    most = len(told)
    assert told == [(k, most) for k in range(1, most + 1)]

    def stop(done, _of):
        if done == 3:
            raise KeyError

    with pytest.raises(KeyError):
        results(small, wish, stop)


def test_ink_is_the_same_here_and_on_the_screen():
    from curves.report.look import DARK, LIGHT
    from dashboard.base.theme import TOKENS

    for mine, theirs in ((LIGHT, TOKENS["light"]), (DARK, TOKENS["dark"])):
        assert {ink: mine[ink] for ink in INKS} == {ink: theirs[ink] for ink in INKS}
