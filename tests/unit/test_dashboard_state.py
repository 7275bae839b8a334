"""What the browser keeps, the numbers remembered, the words and the tables."""

import base64
import csv
import io
import json
import math
import re
from pathlib import Path

import numpy as np
import plotly.offline
import pytest
from dash import dcc, html
from plotly.utils import PlotlyJSONEncoder

import dashboard
from curves import JobError, dump_job, load_job
from curves.parts.labels import label_of
from curves.steady.balance import top_speed
from curves.units import AS_WRITTEN, Units
from dashboard.answers import setups as results
from dashboard.answers.curve import POINTS
from dashboard.base import words as text
from dashboard.pages.which_pack import tables
from dashboard.pages.which_pack.figure_scale import lines_of
from dashboard.pages.which_pack.pins import panels_chosen, pinned_by
from dashboard.shell.editing import edit_part, edit_row, open_file
from dashboard.shell.part_form import FIRST, MODELS, part_form
from dashboard.state.session import PARTS, Session, View, read_session
from dashboard.widgets.fields import step_of, typed, written
from dashboard.widgets.paint import painted

ASSETS = Path(dashboard.__file__).parent / "assets"


@pytest.fixture
def session():
    return Session.of(load_job())


def field(part, name, key):
    return {"type": "field", "part": part, "name": name, "key": key}


def test_what_is_kept_comes_back(session):
    session = session.duplicate(1).toggle(0)
    again = Session.parse(json.loads(json.dumps(session.data())))
    assert again == session


@pytest.mark.parametrize("kept", [None, {}, {"tree": {}}, {"tree": []}, {"tree": {"format": "x"}}])
def test_what_cannot_be_read_gives_the_demonstration(kept):
    assert read_session(kept).job == load_job()


def test_colours_stay_when_setups_go(session):
    names = dict(zip(session.slots, (s.name for s in session.job.setup), strict=True))
    fewer = session.remove(1)
    assert 1 not in fewer.slots
    for slot, setup in zip(fewer.slots, fewer.job.setup, strict=True):
        assert names[slot] == setup.name
    again = fewer.duplicate(2)
    assert 1 in again.slots


def test_the_last_setup_stays(session):
    for slot in session.slots:
        session = session.remove(slot)
    assert len(session.job.setup) == 1


def test_differences_follow_a_new_name(session):
    renamed = session.edit_setup(0, "name", "as it came")
    assert renamed.reference == 0
    assert session.remove(0).reference is None
    assert session.compare_to(3).reference == 3


def test_a_copy_of_a_part_for_one_setup(session):
    apart, name = session.own_part(5, "pack")
    changed = apart.edit(("pack", name, "series"), 20)
    packs = [rig.pack.series for rig in changed.job.rigs()]
    assert packs == [10, 13, 16, 20, 20, 20]


def test_an_invented_job_says_so(session):
    assert session.invented


def test_views_that_make_no_sense_are_left_at_their_default():
    view = View.parse({"speed": "knots", "pinned_kmh": [True, "x", -1, 1e9, 30], "width": "wide"})
    assert view.speed == "km/h"
    assert view.pinned_kmh == (30.0,)
    assert view.width == 1200


def test_rows_take_percent(session):
    changed = edit_row(session, {"slot": 1, "field": "state_of_charge"}, 55)
    assert changed.job.setup[1].state_of_charge == 0.55
    with pytest.raises(ValueError, match="must be from 0 to 100 %"):
        edit_row(session, {"slot": 1, "field": "state_of_charge"}, 120)
    with pytest.raises(ValueError, match="must be a number"):
        edit_row(session, {"slot": 1, "field": "winding_c"}, "")
    assert edit_row(session, {"slot": 1, "field": "winding_c"}, 20) is session


def test_fields_take_what_is_typed(session):
    assert (
        edit_part(session, field("pack", "cells-13", "series"), 14).job.pack["cells-13"].series
        == 14
    )
    assert (
        edit_part(session, field("tune", "town", "power_cap_w"), "").job.tune["town"].power_cap_w
        is None
    )
    assert (
        edit_part(session, field("conditions", "", "headwind_kmh"), 10).job.conditions.headwind_kmh
        == 10
    )
    assert (
        edit_part(session, field("goals", "", "hill/grade_percent"), 5).job.goals.hill.grade_percent
        == 5
    )
    with pytest.raises(ValueError, match="must be a number"):
        edit_part(session, field("goals", "", "hill/length_m"), "")
    assert edit_part(session, field("pack", "gone", "series"), 14) is session
    with pytest.raises(JobError, match="at least 1"):
        edit_part(session, field("pack", "cells-13", "series"), 0)


def test_an_unchanged_field_changes_nothing(session):
    for part, model in MODELS.items():
        if part == "setup":
            continue
        for name in getattr(session.job, part) if part in PARTS else [""]:
            table = session.table(part, name)
            for key in FIRST["job"] if part == "job" else model.model_fields:
                if key in ("source", "sources", "tolerance", "hill"):
                    continue
                value = getattr(table, key)
                shown = written(value) if isinstance(value, tuple) else value
                assert edit_part(session, field(part, name, key), shown) is session, key


def test_lists_are_written_as_they_are_typed():
    model = MODELS["motor"]
    points = ((40.0, 1.0), (80.0, 0.9))
    assert typed(model, "torque_derating", written(points)) == [[40.0, 1.0], [80.0, 0.9]]
    assert typed(MODELS["bike"], "road_load_n", "1, 2; 3") == [1.0, 2.0, 3.0]
    with pytest.raises(ValueError, match="numbers such as"):
        typed(MODELS["bike"], "road_load_n", "one")


def test_every_field_has_a_label_without_its_unit():
    for part, model in MODELS.items():
        for key in model.model_fields:
            label = label_of(key)
            assert label, (part, key)
            assert not re.search(r"\b(mohm|ohm|kmh|uh|nm|kg|rpm per v)\b", label), (
                part,
                key,
                label,
            )


def test_a_form_for_every_part(session):
    for part in ("pack", "tune", "motor", "controller", "bike"):
        for name in getattr(session.job, part):
            assert part_form(session, part, name)
    assert part_form(session, "goals", "")
    assert part_form(session, "conditions", "")


@pytest.mark.parametrize(("value", "step"), [(0, 1), (5, 1), (48, 1), (0.165, 0.01), (1200, 100)])
def test_arrow_keys_change_a_number_by_some_percent(value, step):
    assert step_of(value, whole=False) == pytest.approx(step)


def test_files_from_the_browser():
    body = "data:;base64," + base64.b64encode(dump_job(load_job()).encode()).decode()
    assert open_file(body, "job.toml").job.title == load_job().title
    for wrong in ("", "data:;base64,!!", "data:;base64,/w==", None):
        with pytest.raises(JobError):
            open_file(wrong, "job.toml")


def test_pinned_speeds_keep_their_digits():
    job, view = load_job(), View(units=Units.of(["mph"]), pinned_kmh=(25.0,))
    assert pinned_by("speeds", ["15.5"], view, job).pinned_kmh == (25.0,)
    kmh = pinned_by("speeds", ["15.5", "20", "fast"], view, job).pinned_kmh
    assert kmh == (25.0, pytest.approx(32.18688))
    # Panels that appear as they are chosen change nothing.
    assert pinned_by("panels", list(panels_chosen(view)), view, job) is view
    assert pinned_by("panels", [], view, job) != view
    assert pinned_by("slopes", ["5 %", "−2,5"], view, job).grades == (5.0, -2.5)


def test_curves_are_those_of_the_core(session):
    rigs = session.job.rigs()
    found = results.curves_of(rigs)
    top = top_speed(rigs)
    # Two ways to divide by 3.6 may differ in the last bit.
    assert np.allclose([c.top for c in found], top.speed * 3.6, rtol=1e-14)
    for curve, rig in zip(found, rigs, strict=True):
        assert curve.speed[0] == 0
        assert len(curve.speed) <= POINTS
        assert len(curve.limits) == len(curve.speed) == len(curve.force)
        assert abs(curve.force[-1]) < 1e-6 or math.isnan(curve.force[-1]), rig.name


def test_only_changed_setups_are_asked_again(session, monkeypatch):
    results.curves_of(session.job.rigs())
    asked = []
    draw = results.draw
    monkeypatch.setattr(
        results, "draw", lambda rigs: asked.extend(r.name for r in rigs) or draw(rigs)
    )
    changed = session.edit(("pack", "cells-16", "series"), 17).edit_setup(0, "name", "renamed")
    results.curves_of(changed.job.rigs())
    assert asked == ["16 cells"]


def test_speeds_full_are_the_curves_where_full(session):
    rigs = session.job.rigs()
    speeds = results.speeds_of(rigs, 8.0)
    for curve, found in zip(results.curves_of(rigs), speeds, strict=True):
        assert found.full == pytest.approx(curve.top, rel=1e-9)
        assert found.nearly_empty <= found.full
        assert found.hill < found.full


def test_numbers_for_people():
    assert text.number(-1234.5) == "−1,234"
    assert text.number(-0.04, 1) == "0.0"
    assert text.number(math.nan) == text.NONE
    assert text.signed(0.6, 1) == "+0.6"
    assert text.signed(-0.6, 1) == "−0.6"
    assert text.speed(32.18688, "mph") == "20.0"
    assert text.listed(["a", "b", "c"]) == "a, b and c"
    assert text.plot_safe("  <b>\n& x  ") == "&lt;b&gt; &amp; x"
    assert len(text.plot_safe("x" * 500)) == 28


def test_the_table_says_what_the_plot_shows(session):
    shown = results.compare(session).shown
    head, rows, _ = tables.by_speed(shown, lines_of(shown)[0], "km/h")
    assert head == ["Speed, km/h", *(r.name for r in shown)]
    at_20 = next(row for row in rows if row[0] == "20")
    assert at_20[1] == text.number(float(np.interp(20, shown[0].curve.speed, shown[0].curve.force)))


def test_spreadsheets_get_no_formula(session):
    named = session.edit_setup(0, "name", "=1+1")
    rows = list(csv.reader(io.StringIO(tables.as_csv(results.compare(named).shown, AS_WRITTEN))))
    assert rows[1][0] == "'=1+1"
    assert all(len(row) == len(rows[0]) for row in rows)


def test_the_plot_bundle_is_that_of_plotly():
    bundle = (ASSETS / "plotly-cartesian.min.js").read_text(encoding="utf-8")[:300]
    assert f"v{plotly.offline.get_plotlyjs_version()}" in bundle


def test_nothing_is_fetched_from_elsewhere():
    for file in ("style.css", "client.js"):
        source = (
            (ASSETS / file).read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        )
        assert "http" not in source, file


def test_painting_keeps_text_text_and_refuses_what_acts():
    tree = painted(html.B(["<i>", 1, None], className="x", style={"clipPath": "none"}))
    assert tree == {
        "tag": "b",
        "attributes": {"class": "x", "style": "clip-path:none"},
        "children": ["<i>", "1", []],
    }
    with pytest.raises(TypeError, match=r"dash\.html only"):
        painted(dcc.Link("x", href="/"))


def test_every_icon_is_drawn():
    css = (ASSETS / "style.css").read_text(encoding="utf-8")
    sources = [p.read_text(encoding="utf-8") for p in Path(dashboard.__file__).parent.rglob("*.py")]
    for name in {n for s in sources for n in re.findall(r'icon\("([a-z-]+)"\)', s)}:
        assert f".icon-{name} " in css, name


def test_fields_are_typed_in_the_units_read():
    read = Units.of(["lb", "°F"])
    session = Session.of(load_job())
    name = next(iter(session.job.bike))
    where = {"part": "bike", "name": name, "key": "rider_kg"}
    heavier = edit_part(session, where, 200, read).job.bike[name].rider_kg
    assert heavier == pytest.approx(200 * 0.45359237)  # a pound by definition
    # What stands as it was shown keeps its last digit.
    shown = float(f"{session.job.bike[name].rider_kg / 0.45359237:.6g}")
    assert edit_part(session, where, shown, read) is session
    warm = edit_row(session, {"slot": 0, "field": "winding_c"}, 212, read)
    assert warm.job.setup[0].winding_c == 100.0
    form = json.dumps(part_form(session, "bike", name, read), cls=PlotlyJSONEncoder)
    assert '"children": "lb"' in form
    assert '"children": "kg"' not in form


def test_a_spreadsheet_is_in_the_units_read():
    shown = results.compare(Session.of(load_job())).shown
    head, _first, *_ = csv.reader(io.StringIO(tables.as_csv(shown, Units.of(["mph"]))))
    assert head[1] == "speed mph"
    last = list(csv.reader(io.StringIO(tables.as_csv(shown, Units.of(["mph"])))))[1:]
    ends = [float(row[1]) for row in last if row[0] == shown[0].name]
    assert ends[-1] == pytest.approx(shown[0].curve.end / 1.609344, rel=1e-5)
