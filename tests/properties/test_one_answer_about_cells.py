"""Which pack?, How many cells?, the command and the report say one thing about more cells."""

import contextlib
import html
import io
import json
import random
import re

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from curves import Job, JobError, dump_job, load_job, parse_job, top_speed
from curves.cli import main
from curves.parts.job import build_job
from curves.parts.labels import on_slope
from curves.report.page import report
from curves.report.wish import PackStudy, Wish
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed
from curves.studies.helping import WORTH_KMH, own_counts
from curves.studies.packs import pack_sweep
from curves.units import KMH
from curves.words.packs import sentence
from curves.words.which_pack import which_pack
from dashboard.answers.setups import compare
from dashboard.pages.cells import page as how_many_cells
from dashboard.pages.which_pack import page as first_page
from dashboard.state.session import Session, View
from dashboard.widgets.choice import chosen
from dashboard.widgets.progress import Task
from tests.oracle.random_jobs import job as random_job
from tests.unit.component_tree import words as text_of

VIEW = View()
SOME = settings(max_examples=12, deadline=None)
FEW = settings(max_examples=3, deadline=None)
SEEDS = st.integers(0, 10**9)
ABOUT = re.compile(r"“(.+)” with a full pack of other cells: (.+)\.")
STOPS = re.compile(r"more cells stop helping top speed at (\d+) in series")
BENDS = re.compile(r"from (\d+) cells on .* top speed, not volts: a cell more adds")


def family(seed: int, counts: int = 3) -> Job:
    """A random setup with a full pack of some counts of its cells, beside each other."""
    rng = random.Random(seed)
    tree = random_job(rng)
    (pack,) = tree["pack"].values()
    assume("cell" in pack)
    tree["setup"][0]["state_of_charge"] = 1.0
    first = parse_job(json.dumps(tree), kind="json")
    tree = first.tree()
    own = tree["pack"]["s0"]["series"]
    tree["pack"], tree["tune"], tree["setup"] = {}, {}, []
    for n in sorted({max(1, round(own * share)) for share in (1.0, 1.3, 1.7)[:counts]}):
        other = first.with_cells("s0", n).tree()
        name = f"{n} in series"
        tree["pack"][name], tree["tune"][name] = other["pack"]["s0"], other["tune"]["s0"]
        tree["setup"].append({**other["setup"][0], "name": name, "pack": name, "tune": name})
    try:
        job = build_job(tree, name="family")
    except JobError:
        assume(False)
    assume(np.isfinite(top_speed(job.rigs()).speed).all())
    return job


def told(job: Job) -> tuple[str, str, str]:
    """The first page's headline, the setup it speaks of, and what it says of more cells."""
    answer = which_pack(job.rigs())
    (found,) = [hit for line in answer.more if (hit := ABOUT.fullmatch(line))]
    return answer.headline, found[1], found[2]


def squeezed(text: str) -> str:
    """Words alone, whatever stands between them."""
    plain = html.unescape(re.sub(r"<[^>]+>", "", text)).replace("\N{NO-BREAK SPACE}", " ")
    return " ".join(plain.split())


@SOME
@given(SEEDS)
def test_the_first_page_says_what_the_sweep_says(seed):
    job = family(seed)
    _, name, said = told(job)
    rig = job.rig(name)
    sweep = pack_sweep(rig, own_counts(rig.pack.series))
    road = on_slope(rig.conditions.grade_percent)
    assert sentence(sweep).startswith(f"With a full pack {road}, {said}")


@SOME
@given(SEEDS)
def test_what_is_said_holds_for_packs_edited_one_by_one(seed):
    """Each count a job of its own, by ``Job.with_cells`` and ``top_speed``."""
    job = family(seed)
    headline, name, said = told(job)
    rig = job.rig(name)
    counts = np.array(own_counts(rig.pack.series))
    rigs = [job.with_cells(name, int(n)).rig(name) for n in counts]
    found = top_speed(rigs)
    with np.errstate(invalid="ignore"):
        adds = np.diff(np.nan_to_num(found.speed)) / KMH / np.diff(counts)
    # Speeds are exact to a millionth: what lies so near the worth may fall on either side.
    assume(np.all(np.abs(adds - WORTH_KMH) > 1e-4))
    helps = counts[:-1][adds >= WORTH_KMH]
    stops, bends = STOPS.search(said), BENDS.search(said)
    if stops:
        # The last cell that helped was the one before.
        assert int(stops[1]) == counts[np.flatnonzero(counts == helps[-1])[0] + 1]
    elif said.startswith("more cells do not help"):
        assert not helps.size
    else:
        assert helps[-1] == counts[-2]
    if bends:
        held = [n for n, words in zip(counts, found.limited_by, strict=True) if "voltage" in words]
        assert int(bends[1]) > held[-1]
    if headline.startswith("More volts keep helping"):
        assert not stops or int(stops[1]) > rig.pack.series


@FEW
@given(seed=SEEDS)
def test_both_pages_the_command_and_the_report(seed, tmp_path_factory):
    job = family(seed, counts=2)
    name = told(job)[1]
    job = job.replace("compare_to", name)
    said = told(job)[2]
    compared = compare(Session.of(job))
    assert chosen(compared, VIEW, "cells").name == name
    assert f"“{name}” with a full pack of other cells: {said}." in squeezed(
        text_of(first_page.PAGE.answer(compared, VIEW))
    )
    how_many_cells._work(compared, VIEW, Task())
    cells = squeezed(text_of(how_many_cells.PAGE.answer(compared, VIEW)))
    for clause in said.split("; "):
        assert clause.lower() in cells.lower()

    counts = own_counts(job.rig(name).pack.series)
    file = tmp_path_factory.mktemp("jobs") / "job.toml"
    file.write_text(dump_job(job), encoding="utf-8")
    printed = asked(["packs", str(file), "--setup", name, "--series", ",".join(map(str, counts))])
    assert said in squeezed(printed)

    wish = Wish(packs=(PackStudy(name, tuple(counts)),), endurance=False)
    page = squeezed(report(job, wish))
    # In the answer that leads it, and under the study's figure.
    assert page.count(said) == 2


def asked(words: list[str]) -> str:
    """What a command prints."""
    with contextlib.redirect_stdout(io.StringIO()) as out:
        assert main(words) == 0
    return out.getvalue()


def ordinary(rng: random.Random) -> Job:
    """The demonstration with a tuner's numbers: nothing in it is wrong."""
    own = rng.randint(8, 12)
    job = load_job().with_cells("cells-13", own, parallel=rng.randint(3, 6))
    pack = job.rig("13 cells").pack
    name = next(n for n, p in job.pack.items() if p is pack or p == pack)
    tune = {
        "phase_current_a": rng.uniform(40, 140),
        "pack_current_a": rng.uniform(15, 60),
        "field_weakening_a": rng.choice([0.0, rng.uniform(5, 40)]),
        "low_voltage_cutoff_v": 2.8 * own,
    }
    if rng.random() < 0.5:
        tune["power_cap_w"] = rng.uniform(500, 2500)
    if rng.random() < 0.2:
        tune["speed_cap_kmh"] = rng.uniform(25, 60)
    job = job.replace("tune.weakened", tune)
    job = job.replace(("setup", "13 cells", "tune"), "weakened")
    job = job.replace("motor.hub.kv_rpm_per_v", rng.uniform(6, 14))
    job = job.replace("controller.sine.max_modulation", rng.uniform(0.9, 1.0))
    job = job.replace("conditions.grade_percent", rng.choice([0.0, rng.uniform(0, 5)]))
    assert name in job.pack
    return job


def first_free(rig, counts: np.ndarray) -> float | None:
    """What ``stops_helping_at_series`` was before cut-offs followed: the first count free of volts.

    None where anything is wrong: the cut-off in volts, left as it is, holds a count or stops it.
    """
    n = np.arange(counts[0] - 1, counts[-1] + 1, dtype=float)
    value = stack([rig]).values
    taller = n / value["pack.series"]
    changes = {"pack.series": n}
    for field in ("pack.mass_kg", "pack.bms_cutoff_v"):
        changes[field] = value[field] * taller
    made = stack([rig]).vary(changes)
    top = batch_top_speed(made.batch(), made.names)
    if any("low-voltage cut-off" in words or not words for words in top.limited_by):
        return None
    free = np.array(["voltage" not in words for words in top.limited_by])
    at = int(np.argmax(free))
    return float(n[at]) if free.any() and at > 0 else np.nan


def test_the_count_in_json_is_what_it_was_in_ordinary_jobs():
    """The lowest from which on voltage never binds again is there the first where it does not."""
    rng, compared, named = random.Random(23), 0, 0
    counts = np.arange(10, 25)
    for _ in range(60):
        rig = ordinary(rng).rig("13 cells")
        was = first_free(rig, counts)
        if was is None:
            continue
        now = pack_sweep(rig, counts.tolist()).knee.count[0, 0]
        assert now == pytest.approx(was, nan_ok=True, abs=0)
        compared += 1
        named += was == was
    # Most of them say something, or nothing would be compared.
    assert compared >= 30
    assert named >= 20
