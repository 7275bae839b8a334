"""A setup that cannot start says why, and nothing else about speed, wherever it is told of."""

import json
import random
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves import load_job, parse_job
from curves.cautions import fit, survey
from curves.cautions.stuck import why_stuck
from curves.cli import main
from curves.motion.heat import hill
from curves.parts.job import build_job
from curves.report.page import report
from curves.setups.stack import stack
from curves.steady.balance import top_speed
from curves.steady.starting import at_rest, starts
from curves.words import hill as hill_words
from dashboard.answers.setups import compare
from dashboard.pages.heat import page as stay_cool
from dashboard.pages.heat import study as warmed
from dashboard.pages.range import page as how_far
from dashboard.pages.range import study as ranged
from dashboard.pages.which_pack import page as which_pack
from dashboard.shell.shell import answered
from dashboard.state.session import Session, View
from dashboard.widgets.setups_table import cells
from tests.oracle.random_jobs import job as random_job
from tests.unit.component_tree import words
from tests.unit.reading_html import Page


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


def everywhere(job, capsys, tmp_path):
    """All that page, report and terminal say of a job of one or more setups."""
    file = tmp_path / "job.json"
    file.write_text(json.dumps(job.tree()), encoding="utf-8")
    compared, view = compare(Session.of(job)), View()
    said = {
        "page": words(answered(which_pack.PAGE, compared, view)),
        "table": json.dumps(
            cells(compared, which_pack.columns(compared, view)), ensure_ascii=False
        ),
        "report": Page(report(job)).text(),
    }
    for command in ("check", "top-speed", "curves"):
        speeds = ("--speeds-kmh", "0:20:10") if command == "curves" else ()
        assert main((command, str(file), *speeds)) == 0
        said[command] = " ".join(capsys.readouterr().out.split())
    return {where: text.replace("\xa0", " ") for where, text in said.items()}


def stuck_job():
    job = load_job()
    return job.replace(f"motor.{job.setup[0].motor}.resistance_ohm", 100.0)


def test_a_setup_that_cannot_start_fits_nothing_has_no_speeds_and_says_why(capsys, tmp_path):
    job = stuck_job()
    for where, said in everywhere(job, capsys, tmp_path).items():
        assert not re.search(r"brakes (the bike )?(by )?itself", said), where
        assert not re.search(r" (here )?buys \d", said), where
        assert "with changes" not in said, where
        assert "electrical rpm, the controller follows" not in said, where
    whole = everywhere(job, capsys, tmp_path)
    assert "None of these setups can start on this road." in whole["page"]
    for where in ("page", "table", "check", "top-speed", "curves", "report"):
        assert "at rest the motor gives 0.476 N at the rim, the road asks" in whole[where], where
        assert "What holds it: voltage. More volts" in whole[where], where
        assert "no-load torque of 0.75 N·m is more than its limits let it make" in whole[where]
    for rig, facts in zip(job.rigs(), survey(job.rigs()), strict=True):
        found = fit(rig, facts)
        assert found.verdict == "does not fit"
        assert found.reasons[0].key == "start"
    assert "no load" not in whole["curves"]


def test_one_that_pedals_on_past_the_motors_own_end_starts(capsys, tmp_path):
    """The motor's own end is at 14.7 km/h; the rider's 150 W hold 19.1 on the level."""
    job = load_job()
    motor, bike = job.setup[0].motor, job.setup[0].bike
    job = job.replace(f"bike.{bike}.rider_power_w", 150)
    job = job.replace(f"motor.{motor}.kv_rpm_per_v", 3.0)
    assert "as delivered" in job.compare_to
    said = everywhere(job, capsys, tmp_path)
    assert "19.1" in said["table"]
    for where, text in said.items():
        assert "cannot start" not in text.lower(), where


@pytest.mark.parametrize(
    ("path", "value", "why"),
    [
        ("conditions.grade_percent", 25.0, "up 25 %: at rest the motor gives 224 N at the rim"),
        ("tune.T.power_cap_w", 0.5, "standby of 3 W is more than its limits"),
        ("tune.T.low_voltage_cutoff_v", 100, "rests at 42 V, its cut-off is 100 V. It needs a cut"),
        ("controller.C.foldback_end_v", 50, "folded back to nothing at 50 V. It needs a fold"),
        ("motor.M.no_load_torque_nm", 100.0, "no-load torque of 100 N·m is more"),
    ],
)
def test_why_it_cannot_start_names_what_holds_it(path, value, why):
    job = load_job()
    s = job.setup[0]
    for short, name in (("T", s.tune), ("C", s.controller), ("M", s.motor)):
        path = path.replace(f".{short}.", f".{name}.")
    if "foldback" in path:
        job = job.replace(path.rpartition(".")[0], {"foldback_start_v": 60, "foldback_end_v": 50})
    else:
        job = job.replace(path, value)
    rig = job.rigs()[0]
    (facts,) = survey([rig])
    assert not facts.starts
    assert why in why_stuck(rig, facts)
    # At most twenty words a sentence, numbers and units among them.
    for sentence in re.split(r"(?<=[.:]) ", why_stuck(rig, facts)):
        assert len(sentence.split()) <= 20, sentence


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**9))
def test_starting_is_decided_at_rest(seed):
    """Force above load at rest, the rider's watts left out; none of it hangs on gains."""
    rng = random.Random(seed)
    rigs = parse_job(json.dumps(random_job(rng, 4)), kind="json").rigs()
    top, rest = top_speed(rigs), at_rest(stack(rigs).batch())
    starts_there = rest.surplus > 0
    # Downhill a bike whose motor does not turn may still be held by what it drags.
    held_by_drag = np.isnan(rest.force) & (rest.load < 0)
    assert np.all((starts(top.speed) == starts_there) | held_by_drag)
    for rig, facts in zip(rigs, survey(rigs, top), strict=True):
        assert (why_stuck(rig, facts) == "") == facts.starts


@pytest.fixture(scope="module")
def capped_at_rest():
    """The demonstration's first setup, held at 0 km/h by a cap: it would start."""
    tree = load_job().tree()
    tree["setup"] = tree["setup"][:1]
    tree["tune"][tree["setup"][0]["tune"]]["speed_cap_kmh"] = 0.0
    return build_job(tree, name="job")


def test_a_cap_of_0_is_not_a_bike_that_cannot_start(capped_at_rest, capsys, tmp_path):
    file = tmp_path / "job.json"
    file.write_text(json.dumps(capped_at_rest.tree()), encoding="utf-8")
    assert main(("heat", str(file), "--json")) == 0
    (found,) = json.loads(capsys.readouterr().out)["setups"]
    assert found["hill"]["ended_by"] == "held at 0 km/h"
    assert found["hill"]["longest_m"] == 0
    assert found["hill"]["sentence"] == "It would start on this hill, but a cap holds it at 0 km/h."
    compared = compare(Session.of(capped_at_rest))
    warmed.work(compared, View())
    told = [
        words(stay_cool.answer(compared, View())),
        json.dumps(cells(compared, stay_cool.columns(compared, View())), ensure_ascii=False),
    ]
    for said in told:
        assert "start" not in said.replace("\xa0", " "), said
        assert "0 km/h" in said.replace("\xa0", " "), said


def test_a_rider_who_holds_a_hill_does_not_start_on_it():
    """The rider's watts hold 5 km/h on a grade on which the motor cannot start."""
    tree = load_job().tree()
    tree["setup"] = tree["setup"][:1]
    tree["bike"][tree["setup"][0]["bike"]]["rider_power_w"] = 2000.0
    rig = build_job(tree, name="job").rigs()[0]
    climbed = hill([rig], 0.20, 100.0, 5 / 3.6)
    assert climbed.start_speed[0] > 0
    assert np.isnan(top_speed([rig.on_grade(20.0)]).speed[0])
    assert climbed.longest[0] == 0
    assert hill_words.sentence(climbed, 0) == "It cannot start on this hill."
