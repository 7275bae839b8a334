"""The wheel and the source archive: both are built, and what is installed runs elsewhere."""

import importlib.util
import os
import re
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

from curves import __version__

ROOT = Path(__file__).resolve().parents[2]
PARTS = (
    "curves/py.typed", "curves/demo/courier.toml", "curves/parts/cells/nmc-21700.toml",
    "curves/report/report.css", "curves/report/fonts/SOURCE-SANS-LICENSE.txt",
    "curves/report/fonts/source-sans-3-latin-wght-normal.woff2", "dashboard/assets/style.css",
    "dashboard/assets/plotly-cartesian.min.js", "motor_profiles/demo-hub-direct.toml",
)  # fmt: skip

pytestmark = pytest.mark.skipif(
    not all(map(importlib.util.find_spec, ("hatchling", "pip"))),
    reason="the builder is not installed",
)


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """The source archive, and the wheel made of what is in it."""
    folder = tmp_path_factory.mktemp("dist")
    hatch = [sys.executable, "-m", "hatchling", "build", "-d", str(folder)]
    subprocess.run([*hatch, "-t", "sdist"], cwd=ROOT, check=True, capture_output=True)
    (archive,) = folder.glob("*.tar.gz")
    with tarfile.open(archive) as opened:
        opened.extractall(folder, filter="data")
    source = folder / archive.name.removesuffix(".tar.gz")
    subprocess.run([*hatch, "-t", "wheel"], cwd=source, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    return archive, wheel


def test_both_hold_what_is_needed_and_bear_the_version(built):
    archive, wheel = built
    assert wheel.name.startswith(f"rimforce-{__version__}-")
    with zipfile.ZipFile(wheel) as opened:
        names = set(opened.namelist())
    assert set(PARTS) <= names
    assert {name.split("/")[0].partition("-")[0] for name in names} == {
        "curves", "dashboard", "motor_profiles", "rimforce",
    }  # fmt: skip
    with tarfile.open(archive) as opened:
        inside = {name.partition("/")[2] for name in opened.getnames()}
    assert {*PARTS, "tests/__main__.py", "README.md", "DEVELOPERS.md", "LICENSE"} <= inside


def test_what_is_installed_of_the_wheel_runs_elsewhere(built, tmp_path):
    home = tmp_path / "empty"
    venv.create(home, with_pip=False)
    (site,) = home.glob("lib/python*/site-packages") or home.glob("Lib/site-packages")
    install = ["install", "-q", "--no-deps", "--no-index", "--target", str(site), str(built[1])]
    subprocess.run([sys.executable, "-m", "pip", *install], check=True, capture_output=True)
    # What it depends on is borrowed from this environment, this project itself is not.
    (site / "borrowed.pth").write_text(
        "\n".join(p for p in sys.path if p.endswith("site-packages")), encoding="utf-8"
    )
    (python,) = [p for p in (home / "bin/python", home / "Scripts/python.exe") if p.exists()]
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}

    def run(*words):
        said = subprocess.run(
            [python, *words], cwd=tmp_path, env=kept, capture_output=True, text=True, check=True
        )
        return said.stdout

    place = run("-c", "import curves, dashboard.app; print(curves.__file__)").strip()
    assert Path(place).resolve().is_relative_to(home.resolve())
    assert run("-m", "curves", "--version").strip() == f"rimforce {__version__}"
    assert "13 cells" in run("-m", "curves", "top-speed")
    # Without the pages the engine makes its report all the same.
    (site / "dashboard").rename(site / "put-aside")
    run("-m", "curves", "report", "-o", "report.html")
    assert "font/woff2" in (tmp_path / "report.html").read_text(encoding="utf-8")


def test_the_version_stands_in_one_place():
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    assert 'dynamic = ["version"]' in text
    assert not re.search(r'^version = "', text.partition("[tool")[0], re.M)
    news = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"### {__version__}" in news
