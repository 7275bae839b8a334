"""A browser that goes away: what it asked for stops, and what it still wanted is not begun."""

import socket
import threading

import pytest
from flask import Flask

from dashboard.widgets.progress import StoppedError, task_of
from tests.serving import serving

PATIENCE_S = 60


@pytest.fixture
def studied():
    """A server of one thread, whose study goes on until it is not wanted any more."""
    app, begun, stopped = Flask("study"), threading.Event(), threading.Event()
    tick, answered = threading.Event(), []

    @app.get("/study")
    def study():
        try:
            with task_of("gone", "page") as task:
                begun.set()
                for turn in range(100 * PATIENCE_S):
                    task.told(turn, 100 * PATIENCE_S)
                    tick.wait(0.01)
        except StoppedError:
            stopped.set()
        return "done"

    @app.get("/other")
    def other():
        answered.append("other")
        return "hello"

    with serving(app) as server:
        yield server.effective_port, begun, stopped, answered


def ask(port, path):
    line = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
    line.sendall(f"GET {path} HTTP/1.1\r\nHost: localhost\r\n\r\n".encode())
    return line


def test_a_study_stops_when_its_browser_is_gone(studied):
    port, begun, stopped, answered = studied
    gone = ask(port, "/study")
    assert begun.wait(PATIENCE_S)
    waits = ask(port, "/other")
    # There is one thread: what waits for it is answered once the study has stopped.
    assert not stopped.is_set()
    gone.close()
    assert stopped.wait(PATIENCE_S)
    assert waits.recv(100).startswith(b"HTTP/1.1 200 ")
    waits.close()
    assert answered == ["other"]


def test_a_study_of_a_browser_that_waits_goes_on(studied):
    port, begun, stopped, _ = studied
    line = ask(port, "/study")
    assert begun.wait(PATIENCE_S)
    assert not stopped.wait(0.5)
    line.close()
