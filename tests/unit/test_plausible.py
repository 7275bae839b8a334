"""What no light vehicle has is taken, and said: beside its field, over every answer, in print."""

import json
import re

import annotated_types
import pytest
from dash import html

from curves import load_job, load_profile, profile_names
from curves.cautions import cautions
from curves.cli import main
from curves.parts.job import job_schema
from curves.report.page import report
from curves.units import Units
from dashboard.answers.setups import compare
from dashboard.shell.editing import attempt, edit_part, edit_row
from dashboard.shell.part_form import part_form
from dashboard.shell.registry import pages
from dashboard.shell.shell import answered
from dashboard.state.session import Session, View
from dashboard.widgets.setups_table import setups_table
from tests.unit.component_tree import parts, words
from tests.unit.reading_html import Page

MANY = load_job().replace("pack.cells-13.series", 10_000)
FIELD = {"type": "field", "part": "pack", "name": "cells-13", "key": "series"}
NO_RANGE = {
    "pack.price",  # in any currency
    "setup.state_of_charge",  # from empty to full, nothing is odd
    "motor.torque_derating",  # pairs of two kinds
    "bike.road_load_n",  # three numbers of three kinds
}


def test_every_number_of_a_job_has_a_range_within_its_legal_bounds():
    tables = {
        name.lower(): table
        for name, table in job_schema()["$defs"].items()
        if name in ("Motor", "Controller", "Pack", "Tune", "Bike", "Conditions", "Setup")
        or name in ("Goals", "Hill")
    }
    assert len(tables) == 9
    checked = 0
    for kind, table in tables.items():
        for field, told in table["properties"].items():
            bounds = [told, *told.get("anyOf", ())]
            numeric = any(b.get("type") in ("number", "integer", "array") for b in bounds)
            if not numeric or f"{kind}.{field}" in NO_RANGE:
                continue
            least, most = told["plausible"]
            legal = next((b for b in bounds if "maximum" in b), {})
            assert legal.get("minimum", least) <= least < most <= legal.get("maximum", most), field
            checked += 1
    assert checked > 60


def test_nothing_of_the_demonstration_or_of_a_profile_is_odd():
    from curves.parts.plausible import doubts, odd

    job = load_job()
    assert doubts(job.rigs(), job.goals) == ()
    for name in profile_names():
        rig = job.rigs()[0]
        assert odd(type(rig)(**{**vars(rig), "motor": load_profile(name)})) == ()


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.path)
def test_it_leads_every_answer_and_no_headline_celebrates_it(page):
    said = answered(page, compare(Session.of(MANY)), View())
    heads = [words(x).replace("\xa0", " ") for x in parts(said) if isinstance(x, html.H1)]
    assert len(heads) == 1
    assert heads[0].startswith("warning Is that so? “13 cells”")
    assert "10,000; light vehicles have 3 to 60." in heads[0]


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("bike.courier.rider_kg", 1000, "rider: 2,200 lb; light vehicles have 33.1 to 551 lb"),
        ("conditions.headwind_kmh", 250, "headwind: 155 mph"),
        ("goals.top_speed_kmh", 400, "goal’s top speed: 249 mph"),
        ("setup.0.winding_c", 400, "setup’s winding: 400 °C"),
        ("controller.sine.winding_foldback_c", [100, 900], "winding foldback: 900 °C"),
    ],
)
def test_it_is_said_in_the_units_that_are_read(path, value, said):
    from curves.parts.plausible import doubts

    job = load_job()
    if "courier" not in job.bike:
        path = path.replace("courier", next(iter(job.bike)))
    path = path.replace("sine", next(iter(job.controller)))
    job = job.replace(path, value)
    assert said in " ".join(doubts(job.rigs(), job.goals, Units.of(["mph", "lb"])))


def test_what_follows_from_several_fields_is_said_too():
    """60 cells are plausible, and so are 600 A; the 151 kW of both are not."""
    from curves.parts.plausible import doubts

    job = load_job()
    setup = next(s for s in job.setup if s.pack == "cells-13")
    for path, value in (
        ("pack.cells-13.series", 60),
        ("pack.cells-13.peak_current_a", None),
        (f"controller.{setup.controller}.max_pack_current_a", 600),
        (f"tune.{setup.tune}.pack_current_a", 600),
        (f"tune.{setup.tune}.power_cap_w", None),
    ):
        job = job.replace(path, value)
    (said,) = {x.partition(": ")[2] for x in doubts([job.rig(setup.name)])}
    assert said == "the power pack and tune allow: 151 kW; light vehicles have 0.02 to 60 kW."


def test_check_and_the_command_line_say_it(capsys, tmp_path):
    file = tmp_path / "many.json"
    file.write_text(json.dumps(MANY.tree()), encoding="utf-8")
    assert main(("check", str(file))) == 0
    assert "10,000; light vehicles have 3 to 60" in " ".join(capsys.readouterr().out.split())
    for command in ("top-speed", "range"):
        assert main((command, str(file), "--json")) == 0
        out, err = capsys.readouterr()
        json.loads(out)
        assert re.fullmatch(r"Is that so\? “13 cells”.*10,000; light vehicles have.*\n", err)
    assert main(("top-speed",)) == 0
    assert capsys.readouterr().err == ""


def test_the_report_leads_with_it():
    text = Page(report(MANY)).text()
    said = "Is that so? “13 cells” and 1 more: the pack’s cells in series: 10,000"
    assert 0 < text.index(said) < text.index("If it is: ")
    assert "All that is said of this setup rests on it." in text


def test_it_stands_beside_its_field_and_is_taken():
    session, said = attempt(Session.of(load_job()), edit_part, FIELD, 10_000, Units())
    assert said == "Taken, but is that so? Light vehicles have 3 to 60."
    assert session.job.pack["cells-13"].series == 10_000
    (name,) = (name for name, pack in session.job.pack.items() if pack.series == 10_000)
    form = parts(part_form(session, "pack", name))
    # What follows from the count is as odd: its mass and its cut-off.
    follow = [f"Taken, but is that so? Light vehicles have 0 to {x}." for x in ("150 kg", "230 V")]
    assert sorted(x.error for x in form if getattr(x, "error", None)) == sorted([said, *follow])
    assert attempt(session, edit_part, FIELD, 13, Units())[1] is None


def test_it_stands_in_the_cell_of_the_table():
    where = {"type": "row", "slot": 0, "field": "winding_c"}
    session, said = attempt(Session.of(load_job()), edit_row, where, 500, Units.of(["°F"]))
    assert said == "Taken, but is that so? Light vehicles have -40 to 482 °F."
    assert session.job.setup[0].winding_c == pytest.approx(260)
    assert said in json.dumps(setups_table(session, Units.of(["°F"])), ensure_ascii=False)


def test_a_legal_bound_is_still_a_bound():
    """A range is no bound: what is legal stays so, and what is not stays refused."""
    job, said = attempt(Session.of(load_job()), edit_part, FIELD, 10_001, Units())
    assert job.job.pack["cells-13"].series == 13
    assert said.startswith("must be")
    info = type(job.job.pack["cells-13"]).model_fields["series"]
    assert annotated_types.Le(10_000) in info.metadata
    assert all(c.key != "implausible" for rig in load_job().rigs() for c in cautions(rig))
