"""``serve``: what it tells, what it hands to the dashboard, and that it answers."""

import signal
import socket
import subprocess
import sys
import urllib.request

import pytest

from curves import load_job
from curves.cli import main
from curves.parts.job import demo_job_text
from tests.unit.test_cli_errors import SCRIPT


@pytest.fixture
def served(monkeypatch):
    """Stands in for the dashboard and keeps what it was given."""
    given = {}

    def run(job, *, host, port, open_browser, text, ready):
        given.update(job=job, host=host, port=port, open_browser=open_browser, text=text)
        ready()

    monkeypatch.setattr("dashboard.app.run", run)
    return given


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def test_it_stays_on_this_machine_unless_told_otherwise(served, capsys):
    port = free_port()
    assert main(["serve", "--port", str(port)]) == 0
    assert served.pop("text") == demo_job_text()
    assert served == {
        "job": load_job(),
        "host": "127.0.0.1",
        "port": port,
        "open_browser": False,
    }
    assert capsys.readouterr() == (f"http://127.0.0.1:{port}/\n", "")


@pytest.mark.parametrize("host", ["0.0.0.0", "::"])
def test_listening_to_others_is_warned_of(host, served, capsys):
    if host == "::" and not socket.has_dualstack_ipv6():
        pytest.skip("no IPv6 here")
    port = free_port()
    assert main(["serve", "--host", host, "--port", str(port), "--open"]) == 0
    out, err = capsys.readouterr()
    assert served["host"] == host
    assert served["open_browser"]
    assert out in (f"http://127.0.0.1:{port}/\n", f"http://[::1]:{port}/\n")
    assert err.startswith(f"Warning: {host} can be reached from other machines")


def test_without_a_wish_a_taken_port_is_no_matter(served, capsys, monkeypatch):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        taken_port = taken.getsockname()[1]
        monkeypatch.setattr("curves.commands.serve.USUAL_PORT", taken_port)
        assert main(["serve"]) == 0
    assert served["port"] not in (0, taken_port)
    assert f":{served['port']}/" in capsys.readouterr().out


@pytest.mark.skipif(sys.platform == "win32", reason="interrupts are sent otherwise there")
def test_the_address_printed_answers_and_an_interrupt_ends_it():
    # Tests started in the background of a shell hand on that interrupts are ignored.
    ignored = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        process = subprocess.Popen(
            [str(SCRIPT), "serve", "--port", str(free_port())],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
    finally:
        signal.signal(signal.SIGINT, ignored)
    try:
        address = process.stdout.readline().strip()
        assert address.startswith("http://127.0.0.1:")
        with urllib.request.urlopen(address, timeout=30) as page:
            assert page.status == 200
            assert b"<html" in page.read()
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=30)
    finally:
        process.kill()
        process.communicate()
    assert process.returncode in (0, 130)
    assert "Traceback" not in err
