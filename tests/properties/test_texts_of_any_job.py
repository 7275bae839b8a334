"""Whatever a legal job holds, no text of page, report or terminal shows what is no number."""

import contextlib
import io
import json
import random
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plotly.utils import PlotlyJSONEncoder

from curves import parse_job
from curves.cli import main
from curves.report.page import report
from curves.units import Units
from dashboard.answers.setups import compare
from dashboard.pages.which_pack import page as which_pack
from dashboard.shell.registry import pages
from dashboard.shell.shell import answered
from dashboard.state.session import Session, View
from dashboard.widgets.setups_table import cells, setups_table
from tests.oracle.random_jobs import job as random_job
from tests.unit.component_tree import parts, words
from tests.unit.reading_html import Page

SEEDS = st.integers(0, 10**9)
WRONG = re.compile(
    r"(?<![\w.])[-−]?(?:nan|inf|NaN|Infinity|None(?! of\b| meets\b))(?![\w.])"
    r"|(?<![\w.,])[-−]0(?:\.0+)?(?![\w.,]|\.\d)"
)
"""Words for what is no number, and a nought with a sign; “None of these” begins a sentence."""
NUMBERS_OFF = {
    "headwind": [-0.0, 0.0, -0.04, 250.0],
    "air": [-0.0, -0.4, -0.04, 20.0, 60.0],
    "rating": [0.0, 1e-9, 40.0],
}


def odd_job(seed):
    """One to three random setups, with ratings of nothing, noughts with signs, and dead motors."""
    rng = random.Random(seed)
    tree = random_job(rng, rng.choice([1, 2, 3]))
    conditions = tree.setdefault("conditions", {})
    conditions["headwind_kmh"] = rng.choice(NUMBERS_OFF["headwind"])
    conditions["air_c"] = rng.choice(NUMBERS_OFF["air"])
    for control in tree.get("controller", {}).values():
        control["max_pack_current_a"] = rng.choice(NUMBERS_OFF["rating"])
    for tune in tree["tune"].values():
        if rng.random() < 0.3:
            tune["speed_cap_kmh"] = rng.choice([0.0, 1e-9, 25.0])
        if rng.random() < 0.2:
            tune["phase_current_a"] = rng.choice([0.0, 1e-9, 1e9])
    for bike in tree["bike"].values():
        if rng.random() < 0.3:
            bike["rider_power_w"] = rng.choice([150.0, 1e6])
        bike["tolerance"] = {"bike_mass_kg": 0.05}
    for setup in tree["setup"]:
        setup["winding_c"] = rng.choice([-0.0, 20.0, -0.4, 150.0])
    tree["goals"] = rng.choice(
        [{}, {"top_speed_kmh": 0.0, "hill": {"grade_percent": 8, "length_m": 500, "speed_kmh": 0}}]
    )
    return parse_job(json.dumps(tree), kind="json")


def clean(text, where):
    found = WRONG.search(text)
    assert not found, (where, text[max(0, found.start() - 60) : found.end() + 30])


def strings(tree):
    """Every text in a tree of plain values."""
    if isinstance(tree, str):
        yield tree
    for item in tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ():
        yield from strings(item)


def test_what_is_wrong_is_found():
    for text in ("at -0.0 km/h", "−0 °C", "inf% used", "(nan)", "x: None,", "-0", "air −0.00"):
        assert WRONG.search(text), text
    for text in ("None of these", "information", "-0.5", "−0.04 V", "10-0", "0.0", "−0.05", "-0,5"):
        assert not WRONG.search(text), text


@settings(max_examples=8, deadline=None)
@given(SEEDS, st.sampled_from([(), ("mph", "°F", "lb", "lbf·ft")]))
def test_pages(seed, chosen):
    view = View(units=Units.of(chosen), pinned_kmh=(0.0, 25.0))
    session = Session.of(odd_job(seed))
    compared = compare(session)
    for text in strings(setups_table(session, view.units)):
        clean(text, "setups")
    for page in pages():
        clean(words(answered(page, compared, view)), page.path)
        for text in strings(cells(compared, page.columns(compared, view))):
            clean(text, page.path)
    body = which_pack.body(compared, view)
    clean(words(body), "body")
    for part in parts(body):
        for text in strings(json.loads(PlotlyJSONEncoder().encode(getattr(part, "figure", None)))):
            clean(text, "figure")


COMMANDS = (
    ("check",),
    ("top-speed",),
    ("curves", "--speeds-kmh", "0:40:10"),
    ("runs", "--to-kmh", "20", "--distance-m", "50"),
    ("range", "--speeds-kmh", "20"),
)


@settings(max_examples=4, deadline=None)
@given(SEEDS)
def test_terminal(tmp_path_factory, seed):
    file = tmp_path_factory.mktemp("any") / "job.json"
    file.write_text(json.dumps(odd_job(seed).tree()), encoding="utf-8")
    for name, *options in COMMANDS:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            assert main((name, str(file), *options)) == 0
        clean(out.getvalue() + err.getvalue(), name)


def test_weakening_where_the_drive_has_no_state_at_top_speed(tmp_path, capsys):
    file = tmp_path / "job.json"
    file.write_text(json.dumps(odd_job(20019).tree()), encoding="utf-8")
    assert main(("weakening", str(file), "--amps", "0:60:6")) == 0
    said = capsys.readouterr()
    clean(said.out + said.err, "weakening")
    assert "does not raise the top speed of 8.5 km/h" in said.out


@pytest.mark.parametrize("seed", [1, 2])
def test_report(seed):
    page = Page(report(odd_job(seed)))
    clean(page.text(), "report")
    for tag, attributes in page.elements:
        for name, value in attributes.items():
            clean(value or "", (tag, name))
