"""Many at one server at once: nobody is refused, nobody sees another's job, memory stays bounded.

``python -m pytest -m slow tests/unit/test_sessions.py`` has 50 edit for a minute.
"""

import re
import socket
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from curves import load_job
from curves.parts.job import build_job
from dashboard.state.session import Session, View
from tests.asking import over_the_wire

ROOT = Path(__file__).resolve().parents[2]
DUE = '{"key":"panels","type":"due"}.data'
MOST_GROWTH_MB = 80
"""Measured: full memories hold 24 MB (curves and speeds of 512 setups; without their bound 0.04 MB
a setup for ever), the first answer's imports and the threads 15. Doubled for other machines."""


@pytest.fixture
def server():
    """A server of its own: its address and process."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    process = subprocess.Popen(
        [sys.executable, "-m", "curves", "serve", "--port", str(port)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    yield process.stdout.readline().strip(), process
    process.terminate()
    _, said = process.communicate(timeout=30)
    assert "Traceback" not in said


def memory(process, what):
    """Of a process, in MB; None where the system does not tell."""
    status = Path(f"/proc/{process.pid}/status")
    if not status.exists():
        return None
    return int(re.search(rf"{what}:\s+(\d+) kB", status.read_text())[1]) / 1000


def edits(address, who, until, most):
    """One browser that renames a setup and moves its charge, over and over; how often."""
    tree = load_job().tree()
    tree["setup"] = tree["setup"][:2]
    tree["title"] = f"Job of rider {who}."
    tree["bike"]["cargo"]["rider_kg"] = 60.0 + who
    for setup in tree["setup"]:
        setup["name"] = f"rider {who}, {setup['name']}"
    kept, view = Session.of(build_job(tree, name="job")).data(), View().data()
    page, count = over_the_wire(address), 0
    while count < most and time.monotonic() < until:
        count += 1
        name, charge = f"rider {who}, edit {count}", 5 + (7 * count + who) % 96
        for field, value in (("name", name), ("state_of_charge", charge)):
            said = page.type({"field": field, "slot": 1, "type": "row"}, value, kept, view)
            kept = said["session"]
        setup = kept["tree"]["setup"][1]
        assert (setup["name"], setup["state_of_charge"]) == (name, charge / 100)
        answers = [
            page.ask('"panels","type":"figure"', DUE, session=kept, view=view),
            page.ask(
                "page-answer.children", "settled.data", page="/", session=kept, view=view
            ),
        ]  # fmt: skip
        seen = set(re.findall(r"rider (\d+)", repr(answers)))
        assert seen == {str(who)}, f"rider {who} saw {seen}"
    return count


@pytest.mark.parametrize(
    ("riders", "seconds", "most"),
    [(8, 60, 2), pytest.param(50, 60, 10_000, marks=pytest.mark.slow)],
)
def test_many_edit_at_once(server, riders, seconds, most):
    address, process = server
    before, until = memory(process, "VmRSS"), time.monotonic() + seconds
    with ThreadPoolExecutor(riders) as crowd:
        done = list(crowd.map(lambda who: edits(address, who, until, most), range(riders)))
    assert min(done) >= 1
    if before is not None:
        grown = memory(process, "VmHWM") - before
        print(f"{riders} sessions, {sum(done)} edits, server grew by {grown:.0f} MB at most")
        assert grown < MOST_GROWTH_MB
