"""No result of a setup depends on which others stand in the job.

Setups are worked out together in one batch, and results are remembered. So each is asked alone and
among others, and must come out the same.
"""

import contextlib
import io
import json
import math
import random
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves import load_job
from curves.cli import main
from curves.parts.job import build_job
from curves.report.results import results
from curves.report.wish import Wish
from curves.steady.balance import top_speed
from curves.studies.levers import tried
from curves.studies.sensitivity import sensitivity
from curves.studies.spread import stack_band, top_speed_band
from curves.words.levers import buys
from curves.words.sensitivity import measure_next
from dashboard.answers.setups import compare, forget
from dashboard.shell.registry import pages
from dashboard.state.session import Session, View
from dashboard.widgets.progress import Task
from tests.oracle.random_jobs import job as random_job
from tests.unit.component_tree import words

SEEDS = st.integers(0, 10**9)
NEAR = 1e-7
"""Setups of a batch share the steps of their roots, which end at other last digits: 1e-12 of a
speed, and up to some thousand times as much where that is divided by a slope or a difference."""
RUN_S = 1e-4
"""Runs are integrated together, in steps that the most restless needs: their error is 3e-5 s."""
REPORT_S = 1e-2
"""A report's runs are as fine as their tenth of a second needs: ``results.ENOUGH`` is 0.01 s."""
ALIKE = {
    "motor": {"kv_rpm_per_v": 0.03, "inductance_q_uh": 0.2, "resistance_ohm": 0.05},
    "controller": {"max_modulation": 0.05, "foldback_start_v": 0.02, "standby_w": 0.3},
    "pack": {"cell_resistance_mohm": 0.25, "resistance_ohm": 0.25, "mass_kg": 0.05},
    "bike": {"bike_mass_kg": 0.05, "drag_area_m2": 0.15, "road_load_n": 0.1,
             "final_drive_ratio": 0.03, "gear_ratios": 0.03},
}  # fmt: skip
"""The same tolerances for every part, where it has the value."""


def unsure(tree):
    """A job's tree with tolerances laid over its parts."""
    for kind, tolerances in ALIKE.items():
        for part in tree.get(kind, {}).values():
            part["tolerance"] = {f: x for f, x in tolerances.items() if part.get(f)}
    return tree


def random_tree(seed):
    return unsure(random_job(random.Random(seed), 3))


def mixed_tree():
    """The demonstration with setups that are built otherwise in every part."""
    tree = load_job().tree()
    tree["motor"]["other"] = {"profile": "demo-mid-drive", "tolerance": {"kv_rpm_per_v": 0.02}}
    other = tree["bike"]["cargo"] | {"gear_ratios": [0.9, 1.2, 1.7, 2.4]}
    bare = {k: v for k, v in other.items() if k not in ("drag_area_m2", "rolling_coefficient")}
    notes = {n: {k: v for k, v in other.get(n, {}).items() if k in bare}
             for n in ("sources", "tolerance")}  # fmt: skip
    tree["bike"]["other"] = bare | notes | {"road_load_n": [12.0, 0.2, 0.35]}
    tree["pack"]["other"] = {"open_circuit_v": 50.0, "resistance_ohm": 0.1}
    first = tree["setup"][0]
    tree["setup"] = [
        first,
        first | {"name": "geared", "motor": "other", "bike": "other"},
        tree["setup"][4] | {"name": "stiff", "pack": "other"},
    ]
    tree.pop("compare_to", None)
    return tree


def alone(tree, k):
    return tree | {"setup": [tree["setup"][k]]}


def same(one, other, near=NEAR, least=1e-9):
    """The same value, down to the solver's rounding; texts and nulls exactly."""
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(one[k], other[k], near, least) for k in one)
    if isinstance(one, list | tuple):
        return len(one) == len(other) and all(
            same(a, b, near, least) for a, b in zip(one, other, strict=True)
        )
    if isinstance(one, float) and isinstance(other, float):
        both_none = math.isnan(one) and math.isnan(other)
        return both_none or math.isclose(one, other, rel_tol=near, abs_tol=least)
    return one == other


def difference(one, other, near=NEAR, least=1e-9, at=""):
    """Where two trees differ, for the message."""
    if isinstance(one, dict) and one.keys() == other.keys():
        found = (difference(one[k], other[k], near, least, f"{at}.{k}") for k in one)
        return next(filter(None, found), "")
    if isinstance(one, list) and len(one) == len(other):
        pairs = enumerate(zip(one, other, strict=True))
        found = (difference(a, b, near, least, f"{at}[{k}]") for k, (a, b) in pairs)
        return next(filter(None, found), "")
    return "" if same(one, other, near, least) else f"{at}: {one} alone, {other} among others"


def answered(*arguments):
    """What a command prints as JSON."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main([*arguments, "--json"]) == 0
    return json.loads(out.getvalue())


def asked(folder, tree, command, *options):
    path = folder / "job.json"
    path.write_text(json.dumps(tree), encoding="utf-8")
    return answered(command, str(path), *options)


QUICK = {
    "curves": ("--speeds-kmh", "0:60:3"),
    "top-speed": (),
    "range": (),
    "check": (),
}
SLOW = {
    "runs": ("--to-kmh", "15", "--distance-m", "30"),
    "heat": ("--grade-percent", "4", "--speed-kmh", "12"),
}


def entries(document):
    return document["setups"]


@settings(max_examples=12, deadline=None)
@given(SEEDS, st.integers(0, 2))
@pytest.mark.parametrize("command", QUICK)
def test_a_command_gives_a_setup_the_same_alone(tmp_path_factory, command, seed, k):
    folder, tree = tmp_path_factory.mktemp("job"), random_tree(seed)
    among = entries(asked(folder, tree, command, *QUICK[command]))[k]
    (single,) = entries(asked(folder, alone(tree, k), command, *QUICK[command]))
    assert same(single, among), difference(single, among)


@pytest.mark.parametrize("command", SLOW)
@pytest.mark.parametrize("k", [0, 1, 2])
def test_a_slow_command_gives_a_setup_the_same_alone(tmp_path, command, k):
    tree = unsure(mixed_tree())
    options = {"near": 1e-5, "least": RUN_S}
    among = entries(asked(tmp_path, tree, command, *SLOW[command]))[k]
    (single,) = entries(asked(tmp_path, alone(tree, k), command, *SLOW[command]))
    assert same(single, among, **options), difference(single, among, **options)


@pytest.mark.parametrize(
    "command", [("packs", "--series", "10:14"), ("weakening", "--amps", "0:20:10")]
)
@pytest.mark.parametrize("k", [0, 1])
def test_a_study_gives_a_setup_the_same_alone(tmp_path, command, k):
    tree = unsure(mixed_tree())
    name, *options = command
    options += ["--setup", tree["setup"][k]["name"]]
    among = asked(tmp_path, tree, name, *options)
    single = asked(tmp_path, alone(tree, k), name, *options)
    assert same(single, among), difference(single, among)


@settings(max_examples=15, deadline=None)
@given(SEEDS, st.integers(0, 2))
def test_bands_gains_and_what_to_measure_are_the_same_alone(seed, k):
    tree = random_tree(seed)
    every, one = build_job(tree, name="job").rigs(), build_job(alone(tree, k), name="job").rigs()

    def told(rigs, at):
        band = top_speed_band(rigs)
        mass = stack_band(rigs, lambda s: s.road().mass)
        gained, found = tried(rigs)[at], sensitivity(rigs)[at]
        moved = {x.input: [x.less_kmh, x.more_kmh] for x in found.influences}
        limits = top_speed(rigs).limited_by[at]
        return {
            "band": [float(x[at]) for x in (*band, *mass)],
            "gained": gained,
            "moved": moved,
            "said": [buys(gained, limits), measure_next(found)],
        }

    single, among = told(one, 0), told(every, k)
    assert same(single, among), difference(single, among)


PAGES = pages()


def rows(page, tree):
    """What a page says of every setup, and what leads it in lines that name one."""
    forget()
    compared = compare(Session.of(build_job(tree, name="job")))
    work = getattr(sys.modules[page.columns.__module__], "_work", None)
    work = work or getattr(sys.modules[page.answer.__module__], "_work", None)
    if work is not None:
        work(compared, View(), Task())
    columns = page.columns(compared, View())
    said = {r.name: {c.key: words(c.cell(r, None)) for c in columns} for r in compared.readings}
    lines = [words(x) for x in _items(page.answer(compared, View()))]
    return said, {r.name: [x for x in lines if x.startswith(f"“{r.name}”: ")]
                  for r in compared.readings}  # fmt: skip


def _items(part):
    if getattr(part, "children", None) is not None and type(part).__name__ == "Li":
        return [part]
    inside = part if isinstance(part, list | tuple) else getattr(part, "children", None)
    inside = inside if isinstance(inside, list | tuple) else [inside] if inside else []
    return [x for one in inside if not isinstance(one, str) for x in _items(one)]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.path)
def test_a_page_says_the_same_of_a_setup_alone(page):
    tree = unsure(mixed_tree())
    said, lines = rows(page, tree)
    for k, setup in enumerate(tree["setup"]):
        name = setup["name"]
        own, told = rows(page, alone(tree, k))
        assert own[name] == said[name]
        # The lines of the setup that a page speaks of: none where it speaks of another.
        assert not lines[name] or told[name] == lines[name]


def test_the_report_says_the_same_of_a_setup_alone():
    tree = unsure(mixed_tree())
    wish = Wish(endurance=True)
    every = results(build_job(tree, name="job"), wish)
    for k in range(len(tree["setup"])):
        one = results(build_job(alone(tree, k), name="job"), wish)
        for told, *far in ((numbers, NEAR), (run_numbers, NEAR, REPORT_S)):
            pair = told(one, 0), told(every, k)
            assert same(*pair, *far), difference(*pair, *far)


def numbers(found, k):
    speeds = (found.full, found.empty, *([found.hill] if found.hill else []))
    return {
        "speeds": [float(x[k]) for s in speeds for x in (s.value, *s.band)],
        "fresh": [float(x.speed[k]) for x in (found.fresh, found.plain)],
        "gained": found.gained[k],
        "limits": list(found.top.limited_by[k]),
        "cautions": [c.text for c in found.cautions[k]],
    }


def run_numbers(found, k):
    e = found.endurance
    return {
        "runs": found.runs.speed_time[k].tolist() + found.runs.distance_time[k].tolist(),
        "bands": [x[k].tolist() for x in found.runs_band],
        "range": [x[k].tolist() for x in (e.range.distance, *e.range_band)],
        "warm": [float(e.warming.settled.winding_c[k]), float(e.warming.winding_s[k])],
        "hill": [float(x[k]) for x in (e.hill.longest, e.hill.low, e.hill.high)],
    }
