"""What goes wrong is told once, on standard error, with exit status 2 and no traceback."""

import os
import subprocess
import sys
import sysconfig
import tomllib
from pathlib import Path

import pytest

from curves import cli
from curves.cli import main
from curves.parts.job import demo_job_text

SCRIPT = Path(sysconfig.get_path("scripts")) / (
    "rimforce.exe" if sys.platform == "win32" else "rimforce"
)
DEMO = demo_job_text()
NOISE = bytes(range(256)) * 40_000
"""10 MB of no text."""


def changed(old, new):
    assert old in DEMO
    return DEMO.replace(old, new, 1).encode()


MALFORMED = {
    "wrong unit": (
        changed("load_kg = 40.0", "load_lb = 88.0"),
        ["[bike.cargo] load_lb", "load_kg"],
    ),
    "a text for a number": (
        changed("load_kg = 40.0", 'load_kg = "40 kg"'),
        ["[bike.cargo] load_kg", "must be a number"],
    ),
    "negative resistance": (
        changed("cell_resistance_mohm = 28.0", "cell_resistance_mohm = -28.0"),
        ["[pack.cells-10] cell_resistance_mohm", "-28", "at least 0"],
    ),
    "missing part": (
        changed('motor = "hub"', 'motor = "hob"'),
        ["[[setup]]", "motor", "hob", "hub"],
    ),
    "missing field": (
        changed("rider_kg = 78.0", ""),
        ["[bike.cargo] rider_kg", "is missing"],
    ),
    "NaN": (changed("rider_kg = 78.0", "rider_kg = nan"), ["rider_kg", "nan", "finite"]),
    "infinite": (changed("rider_kg = 78.0", "rider_kg = inf"), ["rider_kg", "inf"]),
    "unknown field": (
        changed("rider_kg = 78.0", "rider_kg = 78.0\ncolour = 3"),
        ["[bike.cargo] colour", "unknown field"],
    ),
    "not TOML": (b"format == 'rimforce-job-1'", ["is not valid TOML"]),
    "not JSON": (b'{"format": ', ["is not valid JSON"]),
    "empty": (b"", ["is empty"]),
    "another format": (changed("rimforce-job-1", "rimforce-job-9"), ["format", "rimforce-job-1"]),
    "no setup": (DEMO[: DEMO.index("[[setup]]")].encode(), ["setup", "is missing"]),
    "deep lists": (b"a = " + b"[" * 100_000 + b"]" * 100_000, ["nested too deeply"]),
    "deep tables": (b'{"a":' * 100_000 + b"1" + b"}" * 100_000, ["nested too deeply"]),
    "a deep key": (b".".join([b"a"] * 100_000) + b" = 1", ["nested too deeply"]),
    "noise": (NOISE, ["larger than 1 MB"]),
    "short noise": (NOISE[:4096], ["not UTF-8"]),
}


def assert_told(status, out, err, *parts):
    assert status == 2
    assert out == ""
    assert "Traceback" not in err
    assert err.count("\n") == 1
    assert len(err) < 600
    for part in parts:
        assert part in err


@pytest.mark.parametrize("command", ["curves", "top-speed", "check", "serve"])
@pytest.mark.parametrize("case", MALFORMED)
def test_a_malformed_job_is_told_in_one_line(case, command, tmp_path, capsys):
    content, parts = MALFORMED[case]
    file = tmp_path / "job.toml"
    file.write_bytes(content)
    status = main([command, str(file)])
    assert_told(status, *capsys.readouterr(), "job.toml", *parts)


def test_a_folder_and_a_file_that_is_not_there(tmp_path, capsys):
    assert_told(main(["top-speed", str(tmp_path)]), *capsys.readouterr(), "is a folder")
    missing = str(tmp_path / "none.toml")
    assert_told(main(["top-speed", missing]), *capsys.readouterr(), missing, "no such file")


@pytest.mark.parametrize(
    ("arguments", "parts"),
    [
        (["fly"], ["No such command", "rimforce --help"]),
        (["curves", "--spede"], ["No such option", "rimforce curves --help"]),
        (["curves", "--csv"], ["requires an argument"]),
        (["curves", "a.toml", "b.toml"], ["unexpected extra argument", "b.toml"]),
        (["curves", "--speeds-kmh", "fast"], ["--speeds-kmh fast", "0:80:1"]),
        (["serve", "--port", "many"], ["--port"]),
        (["serve", "--port", "99999"], ["--port", "65535"]),
        (["serve", "--host", "256.1.1.1"], ["--host 256.1.1.1"]),
        (["check", "--class", "rocket"], ["--class rocket", "en-15194"]),
        (["check", "--fuse-a", "0"], ["--fuse-a", "above 0"]),
        (["check", "--fuse-a", "nan"], ["--fuse-a"]),
        (["check", "--pack-awg", "50"], ["--pack-awg 50", "4/0"]),
        (["check", "--pack-awg", "999999999/0"], ["--pack-awg"]),
        ([], ["needs a command", "rimforce --help"]),
    ],
)
def test_wrong_usage_is_told_in_one_line(arguments, parts, capsys):
    assert_told(main(arguments), *capsys.readouterr(), *parts)


@pytest.mark.parametrize("place", ["", "none/out.csv", "job.toml/out.csv", "x" * 5000])
def test_a_file_that_cannot_be_written(place, tmp_path, capsys):
    (tmp_path / "job.toml").write_text(DEMO, encoding="utf-8")
    status = main(["top-speed", "--csv", str(tmp_path / place)])
    out, err = capsys.readouterr()
    assert (status, out) == (2, "")
    assert err.startswith("--csv ")
    assert err.count("\n") == 1
    assert [entry.name for entry in tmp_path.iterdir()] == ["job.toml"]


def test_a_port_in_use_is_told(capsys):
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        status = main(["serve", "--port", str(port)])
    assert_told(status, *capsys.readouterr(), f"--port {port}")


def test_a_fault_of_the_program_is_told_apart(monkeypatch, capsys):
    def broken(_):
        raise ZeroDivisionError("division by zero")

    monkeypatch.delenv(cli.TRACEBACK, raising=False)
    monkeypatch.setattr("curves.commands.top_speed.opened_job", broken)
    assert main(["top-speed"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert "ZeroDivisionError" in err
    assert "Traceback" not in err
    monkeypatch.setenv(cli.TRACEBACK, "1")
    with pytest.raises(ZeroDivisionError):
        main(["top-speed"])


def script(*arguments, **options):
    return subprocess.run(
        [str(SCRIPT), *arguments], capture_output=True, check=False, timeout=60, **options
    )


@pytest.mark.parametrize("case", ["not TOML", "negative resistance", "deep lists", "noise"])
def test_the_installed_script_tells_it_too(case, tmp_path):
    content, parts = MALFORMED[case]
    file = tmp_path / "job.toml"
    file.write_bytes(content)
    done = script("top-speed", str(file), "--json")
    assert_told(done.returncode, done.stdout.decode(), done.stderr.decode(), *parts)


def test_the_installed_script_runs_the_demo_from_anywhere(tmp_path):
    done = script("top-speed", "--json", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.startswith(b'{"format": "rimforce-top-speed-1"')
    version = script("--version", cwd=tmp_path).stdout.decode().split()
    assert version[0] == "rimforce"


@pytest.mark.skipif(sys.platform == "win32", reason="pipes close otherwise there")
def test_a_reader_that_goes_away_is_no_disaster():
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [str(SCRIPT), "curves", "--json"], stdout=write, stderr=subprocess.PIPE, check=False
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (2, b"")


@pytest.mark.skipif(sys.platform == "win32", reason="a shell of its own there")
def test_closed_outputs_are_no_disaster():
    for closed in (">&-", "2>&-", ">&- 2>&-"):
        done = subprocess.run(
            ["sh", "-c", f'"$0" top-speed none.toml --json {closed}', str(SCRIPT)],
            capture_output=True,
            check=False,
        )
        assert done.returncode == 2
        assert b"Traceback" not in done.stderr


def test_letters_the_output_cannot_show_are_replaced():
    plain = dict(os.environ, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    done = script("check", env=plain)
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"N?m" in done.stdout


def test_help_waits_for_nothing_heavy():
    # scipy or plotly would double the half second that Python, NumPy and pydantic take.
    code = (
        "import sys; sys.argv = ['rimforce', '--help']\n"
        "from curves.cli import main\n"
        "main()\n"
        "heavy = {name.partition('.')[0] for name in sys.modules}\n"
        "sys.exit(bool(heavy & {'scipy', 'dash', 'plotly', 'pandas', 'dask'}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert done.returncode == 0
    assert b"top-speed" in done.stdout


def test_the_demo_is_what_the_cases_change():
    assert tomllib.loads(DEMO)["format"] == "rimforce-job-1"
