"""Ending the program by signals: at once, without a traceback, and with nothing left behind."""

import json
import os
import signal
import subprocess
import sys
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Timer

import pytest

from curves import load_job
from curves.commands import progress
from curves.motion.runs import coupled_runs
from curves.motion.runs.results import Targets
from curves.pace import heard_by, tell

ROOT = Path(__file__).resolve().parents[2]
LONG = (
    "search",
    "--json",
    "--workers=2",
    "--budget=10000000",
    "--vary=pack.series=10:20:1",
    "--vary=tune.phase_current_a=20:120:0.002",
)
"""Half a million setups: it ends when it is ended."""
PATIENCE_S = 300
"""A machine whose cores are busy takes minutes for what takes a second; nothing waits so long."""
posix = pytest.mark.skipif(sys.platform == "win32", reason="signals are sent otherwise there")


@contextmanager
def running(*command, path=None, words=None):
    """The program, in a group of its own as a terminal has it, with interrupts not ignored."""
    words = words or ("-m", "curves", *command)
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        process = subprocess.Popen(
            [sys.executable, *words],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(path or "")},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
    finally:
        signal.signal(signal.SIGINT, before)
    try:
        yield process
    finally:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate()


def read_until(process, said):
    """Standard error up to the line with some words; the program is ended if it says nothing."""
    lines, late = [], Timer(PATIENCE_S, process.kill)
    late.start()
    try:
        for line in process.stderr:
            lines.append(line)
            if said in line:
                return lines
    finally:
        late.cancel()
    raise AssertionError(f"ended without {said!r}: {''.join(lines)}")


def at_work(process):
    """Wait until a piece is back: the workers are there and have the next ones."""
    while ": 0 of" in read_until(process, "setups tried")[-1]:
        pass


def ended(process):
    """Status and the rest of standard error, once no process holds that any more."""
    _, err = process.communicate(timeout=PATIENCE_S)
    assert "Traceback" not in err
    assert "leaked" not in err
    return process.returncode


@posix
def test_two_interrupts_end_a_search_and_its_workers():
    with running(*LONG) as process:
        at_work(process)
        os.killpg(process.pid, signal.SIGINT)
        read_until(process, "Ctrl+C once more")
        os.killpg(process.pid, signal.SIGINT)
        assert ended(process) == 130


LASTING = """
import sys, time
from curves.studies.workers import local
piece = "import sys, time; print('at work', file=sys.stderr, flush=True); time.sleep(3600)"
try:
    with local(2) as workers:
        pieces = [workers.submit(exec, piece) for _ in range(2)]
        # What no worker has taken on is not begun any more once this is left.
        while not all(one.running() for one in pieces):
            time.sleep(0.01)
except KeyboardInterrupt:
    sys.exit(130)
"""
"""Waits for its workers' last pieces, as a search does that has been asked to stop."""


@posix
def test_an_interrupt_while_the_last_pieces_are_awaited_ends_the_workers():
    with running(words=("-c", LASTING)) as process:
        for _ in range(2):
            read_until(process, "at work")
        os.killpg(process.pid, signal.SIGINT)
        assert ended(process) == 130


@posix
def test_one_interrupt_gives_what_a_search_has_tried():
    with running(*LONG) as process:
        at_work(process)
        os.killpg(process.pid, signal.SIGINT)
        out, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 0
    found = json.loads(out)
    assert found["stopped"]
    assert found["tried"] > 0
    assert "Traceback" not in err


@posix
@pytest.mark.parametrize("whom", [os.kill, os.killpg], ids=["program", "group"])
def test_a_termination_ends_a_search_and_its_workers(whom):
    with running(*LONG) as process:
        at_work(process)
        whom(process.pid, signal.SIGTERM)
        assert ended(process) == 143


@posix
def test_workers_do_not_outlive_a_program_that_is_killed():
    with running(*LONG) as process:
        at_work(process)
        process.kill()
        # Its end of standard error is closed, but theirs are open until they have gone too.
        process.communicate(timeout=PATIENCE_S)
        assert process.returncode == -signal.SIGKILL


@posix
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("module", ["typer", "pydantic", "numpy"])
def test_a_signal_in_the_midst_of_imports_leaves_no_traceback(tmp_path, module, number):
    slow = "import sys, time\nprint('importing', file=sys.stderr, flush=True)\ntime.sleep(3600)\n"
    (tmp_path / f"{module}.py").write_text(slow)
    with running("top-speed", path=tmp_path) as process:
        read_until(process, "importing")
        process.send_signal(number)
        assert ended(process) == 128 + number


def test_an_ignored_interrupt_stays_ignored():
    said = "import signal, curves.__main__ as m; signal.signal(signal.SIGINT, signal.SIG_IGN); "
    said += "import sys; sys.argv[1:] = ['--version']; m.main(); "
    said += "print(signal.getsignal(signal.SIGINT) is signal.SIG_IGN)"
    got = subprocess.run([sys.executable, "-c", said], cwd=ROOT, capture_output=True, text=True)
    assert got.stdout.splitlines()[-1] == "True"


def test_long_work_is_told_on_standard_error_alone(monkeypatch, capsys):
    monkeypatch.setattr(progress, "SILENT_S", 0.0)
    with progress.shown():
        tell("setups", 3, 4)
        # Until the thread that shows it has done so.
        lines = ""
        while "setups: 3 of 4" not in lines:
            lines += capsys.readouterr().err
        progress.quiet()
        capsys.readouterr()
        tell("setups", 4, 4)
    assert capsys.readouterr() == ("", "")


def test_work_is_heard_and_ended_from_within():
    heard = []

    class EnoughError(Exception):
        pass

    def listen(what, done, most):
        heard.append((what, done, most))
        raise EnoughError

    rigs = load_job(None).rigs()[:1]
    with pytest.raises(EnoughError), heard_by(listen):
        coupled_runs(rigs, Targets(speeds=(), distances=(1.0,)))
    assert heard[0][0] == "seconds ridden"
    tell("nobody", 1, 2)
    assert len(heard) == 1
