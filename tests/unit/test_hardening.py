"""What no file and no name may do: act as markup or formula, be run, or cost a file its content."""

import ast
import csv
import io
import json
import re
import signal
import subprocess
import sys
from pathlib import Path

import plotly.utils
import pytest

from curves import load_job
from curves.parts.job import build_job
from curves.present.serial import csv_text
from curves.units import AS_WRITTEN
from dashboard.answers.memory import Memory
from dashboard.answers.setups import compare
from dashboard.pages.which_pack import tables
from dashboard.shell.registry import pages
from dashboard.state.session import Session, View

ROOT = Path(__file__).resolve().parents[2]
EVIL = "<img src=x onerror=alert(1)>"
FORMULAS = ("=1+1", "+1", "-1", "@sum(A1)", "\t=1", "\r=1", "=cmd|' /C calc'!A0")


@pytest.fixture(scope="module")
def hostile():
    """Markup for a name wherever a job takes one."""
    text = json.dumps(load_job().tree())
    for name in ("hub", "sine", "cells-13", "town", "cargo", "13 cells"):
        text = text.replace(f'"{name}"', json.dumps(f"{EVIL} {name}"))
    return compare(Session.of(build_job(json.loads(text), name="job")))


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.path)
def test_a_name_is_text_in_every_plot(page, hostile):
    body = json.loads(json.dumps(page.body(hostile, View()), cls=plotly.utils.PlotlyJSONEncoder))
    figures = list(plots(body))
    assert not [f for f in figures if EVIL in json.dumps(f)]
    # Text outside of plots goes through React, which escapes it; these would not.
    assert not {"DangerouslySetInnerHTML", "Markdown"} & set(kinds(body))


def plots(tree):
    """Every figure in a tree of components."""
    if isinstance(tree, dict):
        if tree.get("type") == "Graph":
            yield tree["props"]["figure"]
        tree = list(tree.values())
    if isinstance(tree, list):
        for item in tree:
            yield from plots(item)


def kinds(tree):
    """Kinds of components in a tree."""
    if isinstance(tree, dict):
        yield from [tree["type"]] if isinstance(tree.get("type"), str) else []
        tree = list(tree.values())
    if isinstance(tree, list):
        for item in tree:
            yield from kinds(item)


@pytest.mark.parametrize("name", FORMULAS)
def test_no_cell_of_a_csv_is_a_formula(name):
    rows = list(csv.reader(io.StringIO(csv_text([{name: name, "list": [name]}]), newline="")))
    assert all(cell.startswith(("'", "list")) for row in rows for cell in row)


def test_no_name_in_the_pages_csv_is_a_formula():
    for name in (f for f in FORMULAS if f.isprintable()):
        session = Session.of(load_job()).edit_setup(0, "name", name)
        text = tables.as_csv(compare(session).shown[:1], AS_WRITTEN)
        assert {row[0] for row in csv.reader(io.StringIO(text))} == {"setup", f"'{name}"}


RUNNING = {"eval", "exec", "compile", "__import__"}
MODULES = {"pickle", "marshal", "shelve", "dill", "cloudpickle", "joblib", "yaml", "ctypes"}
SHELLS = {"system", "popen", "allow_pickle"}


def test_nothing_read_is_ever_run():
    for file in [*ROOT.glob("curves/**/*.py"), *ROOT.glob("dashboard/**/*.py")]:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Name):
                assert node.id not in RUNNING, (file, node.lineno)
            elif isinstance(node, ast.Import | ast.ImportFrom):
                names = [a.name for a in node.names] + [getattr(node, "module", None) or ""]
                assert not MODULES & {name.split(".")[0] for name in names}, (file, node.lineno)
            elif isinstance(node, ast.Attribute | ast.keyword):
                name = node.attr if isinstance(node, ast.Attribute) else node.arg
                assert name not in SHELLS, (file, node.value.lineno)


def test_the_pages_own_scripts_write_no_markup_and_run_no_text():
    for file in ROOT.glob("dashboard/assets/*.js"):
        if "plotly" not in file.name:
            text = file.read_text(encoding="utf-8")
            said = re.search(r"innerHTML|outerHTML|insertAdjacentHTML|\beval\(|new Function", text)
            assert said is None, (file.name, said)


STALLED = """
import os, sys, time
from pathlib import Path
from curves.commands.output import write_file
def stalled(_handle):
    print("writing", flush=True)
    time.sleep(60)
os.fsync = stalled
write_file(Path(sys.argv[1]), "new " * 1_000_000, option="-o")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="there is no such signal")
def test_a_program_killed_while_it_saves_leaves_the_old_file(tmp_path):
    file = tmp_path / "job.toml"
    file.write_text("old")
    with subprocess.Popen(
        [sys.executable, "-c", STALLED, str(file)], cwd=ROOT, stdout=subprocess.PIPE, text=True
    ) as process:
        said = process.stdout.readline()
        process.send_signal(signal.SIGKILL)
    assert said == "writing\n"
    assert file.read_text() == "old"


def test_a_memory_forgets_the_oldest():
    kept = Memory(3)
    for key in range(10):
        assert kept.each([key], lambda _: ["answer"]) == ["answer"]
    assert [key for key in range(10) if kept.has(key)] == [7, 8, 9]
