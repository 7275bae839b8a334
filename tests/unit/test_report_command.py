"""``report``: the file is written whole or not at all; PDF where its package is there."""

import datetime
import os
import re
import socket
import sys

import pytest

from curves import dump_job, load_job
from curves.cli import main
from curves.report import read_report
from curves.report.pdf import pdf
from tests.unit.reading_html import Page, Tables


@pytest.fixture(scope="module")
def job_file(tmp_path_factory):
    """Two setups of the demo, which is quick."""
    job = load_job()
    setups = [s for s in job.tree()["setup"] if s["name"] in ("as delivered", "13 cells")]
    file = tmp_path_factory.mktemp("job") / "two.toml"
    file.write_text(dump_job(job.replace("setup", setups)), encoding="utf-8")
    return str(file)


def run(capsys, *arguments):
    status = main([*arguments, "--no-endurance"])
    out, err = capsys.readouterr()
    return status, out, err


def test_a_report_with_all_its_options(job_file, tmp_path, capsys):
    file = tmp_path / "report.html"
    status, out, err = run(
        capsys, "report", job_file, "-o", str(file), "--title", "Which <pack>?", "--notes", "Hello",
        "--workshop", "Wheel & Wire", "--date", "2 March", "--speed-unit", "mph",
        "--set", "13 cells", "--packs", "as delivered", "--series", "9:14:1",
        "--weakening", "13 cells", "--amps", "0,10,20",
    )  # fmt: skip
    assert (status, out, err) == (0, "", f"{file}: 2 setups\n")
    text = file.read_text(encoding="utf-8")
    assert read_report(text) == load_job(job_file)
    shown = Page(text).text()
    for said in ("Which <pack>?", "Hello", "Wheel & Wire", "2 March", "mph"):
        assert said in shown
    tables = Tables(text).tables
    assert [row[0] for row in tables["Top speed over cells in series"][1:]] == [
        "9", "10", "11", "12", "13", "14",
    ]  # fmt: skip
    assert [row[0] for row in tables["Field weakening and what it brings"][1:]] == ["0", "10", "20"]
    assert "Settings of 13 cells" in tables


@pytest.mark.parametrize("written", ["lb,F", " °F , lb"])
def test_it_is_read_in_the_units_that_are_asked_for(job_file, tmp_path, capsys, written):
    file = tmp_path / "report.html"
    assert run(capsys, "report", job_file, "-o", str(file), "--units", written)[0] == 0
    shown = Page(file.read_text(encoding="utf-8")).text()
    assert "64.4 °F" in shown
    assert re.search(r"\d lb\b", shown)
    assert "road speed, km/h" in shown
    assert not re.search(r"\d kg\b(?!·)", shown)


def test_it_bears_todays_date_unless_told(job_file, tmp_path, capsys):
    file = tmp_path / "report.html"
    assert run(capsys, "report", job_file, "-o", str(file))[0] == 0
    today = datetime.date.today()
    days = {(today - datetime.timedelta(days=k)).isoformat() for k in (0, 1)}  # over midnight
    assert any(day in Page(file.read_text(encoding="utf-8")).text() for day in days)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "-o: name the file to write"),
        (("-o", "report.docx"), "must end in .html or .pdf"),
        (("-o", "report.html", "--set", "nobody"), "no such setup"),
        (("-o", "report.html", "--packs", "13 cells", "--series", "9.5"), "whole"),
        (("-o", "report.html", "--amps", "0:1000:1"), "at most 400"),
        (("-o", "nowhere/report.html"), "cannot be written"),
        (("-o", "report.html", "--speed-unit", "knots"), "--speed-unit"),
        (("-o", "report.html", "--units", "lb,stone"), "must be any of mph, lbf-ft, F, lb"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(
    job_file, tmp_path, capsys, monkeypatch, arguments, said
):
    monkeypatch.chdir(tmp_path)
    status, out, err = run(capsys, "report", job_file, *arguments)
    assert (status, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_leaves_the_old_report(job_file, tmp_path, capsys, monkeypatch):
    file = tmp_path / "report.html"
    file.write_text("old")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    status, _, err = run(capsys, "report", job_file, "-o", str(file))
    assert status == 2
    assert "No space left" in err
    assert file.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["report.html"]


def test_without_the_package_it_says_how_to_get_it(job_file, tmp_path, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    file = tmp_path / "report.pdf"
    status, out, err = run(capsys, "report", job_file, "-o", str(file))
    assert (status, out) == (2, "")
    assert "pip install 'rimforce[pdf]'" in err
    assert err.count("\n") == 1
    assert not file.exists()


def test_the_same_report_is_the_same_pdf(job_file, tmp_path, capsys):
    pytest.importorskip("weasyprint", reason="the pdf extra is not installed", exc_type=ImportError)
    files = [tmp_path / name for name in ("one.pdf", "two.pdf")]
    for file in files:
        status, _, err = run(capsys, "report", job_file, "-o", str(file), "--date", "2026-03-02")
        assert status == 0, err
    one, two = (file.read_bytes() for file in files)
    assert one.startswith(b"%PDF-")
    assert one == two


def test_nothing_is_fetched_for_a_pdf():
    pytest.importorskip("weasyprint", reason="the pdf extra is not installed", exc_type=ImportError)
    with socket.create_server(("127.0.0.1", 0)) as outside:
        outside.setblocking(False)
        address = f"http://127.0.0.1:{outside.getsockname()[1]}/x.png"
        assert pdf(f'<head></head><img src="{address}">').startswith(b"%PDF-")
        with pytest.raises(BlockingIOError):
            outside.accept()
