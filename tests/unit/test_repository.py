"""What the README promises of a fresh clone."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TEST_COMMAND = (
    'python3 -m venv .venv && .venv/bin/pip install -e ".[test]" && .venv/bin/python -m tests'
)
SERVE_COMMAND = (
    "python3 -m venv .venv && .venv/bin/pip install -e . && .venv/bin/rimforce serve --open"
)
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "curves",
    "dashboard",
    "tests",
    "motor_profiles",
}


def tracked():
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    return listed.stdout.splitlines()


def test_the_readme_has_its_two_commands():
    lines = [line.strip() for line in (ROOT / "README.md").read_text(encoding="utf-8").splitlines()]
    assert SERVE_COMMAND in lines
    assert TEST_COMMAND in lines


def test_ci_runs_the_readmes_test_command():
    script = ROOT / ".ci" / "run"
    assert script.read_text(encoding="utf-8").splitlines()[-1] == TEST_COMMAND
    assert os.name == "nt" or os.access(script, os.X_OK)


def test_top_level_holds_nothing_else():
    top = {name.split("/")[0] for name in tracked()}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL


def test_packaged_data_is_found_from_anywhere(tmp_path):
    asked = (
        "import curves; print(len(curves.load_job().rigs()), len(curves.profile_names()), "
        "curves.load_job().rig('13 cells').pack.open_circuit(1.0))"
    )
    said = subprocess.run(
        [sys.executable, "-c", asked], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    rigs, profiles, volts = said.stdout.split()
    assert int(rigs) == 6
    assert int(profiles) >= 3
    assert float(volts) == pytest.approx(54.6, abs=1e-3)


def test_importing_the_parts_leaves_slow_libraries_alone():
    asked = (
        "import sys, curves.parts; "
        "print([m for m in ('scipy', 'tomlkit', 'dash') if m in sys.modules])"
    )
    said = subprocess.run(
        [sys.executable, "-c", asked], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert said.stdout.strip() == "[]"
