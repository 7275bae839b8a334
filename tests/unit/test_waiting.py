"""Work in the background: one at a time, the newest of a page wanted, the others told to stop."""

import threading
import time

import pytest
from dash.exceptions import PreventUpdate

from curves.pace import heard_by, tell
from dashboard.widgets.progress import StoppedError, _tasks, task_of

PATIENCE_S = 60


def in_a_thread(page, entered, leave):
    def ask():
        with task_of("kind", page):
            entered.set()
            leave.wait(PATIENCE_S)

    thread = threading.Thread(target=ask)
    thread.start()
    return thread


def test_a_newer_question_of_a_page_stops_the_older_one():
    entered, leave, threads = threading.Event(), threading.Event(), []

    def older():
        with task_of("kind", "page") as task:
            threads.append(in_a_thread("page", entered, leave))
            # Told to stop as soon as the newer one asks, which then waits for its turn.
            while not task.stopped:
                time.sleep(0.01)
            assert not entered.is_set()
            task.told(1, 2)

    with pytest.raises(PreventUpdate):
        older()
    assert entered.wait(PATIENCE_S)
    leave.set()
    threads[0].join(PATIENCE_S)


def test_pages_wait_for_each_other_and_stop_nobody():
    entered, leave = threading.Event(), threading.Event()
    leave.set()
    with task_of("kind", "page") as task:
        thread = in_a_thread("another page", entered, leave)
        assert not entered.wait(0.3)
        assert not task.stopped
    assert entered.wait(PATIENCE_S)
    thread.join(PATIENCE_S)


def test_a_stop_by_hand_is_told_from_a_newer_question():
    def stopped():
        with task_of("kind", "page") as task:
            task.stop()
            task.told(1, 2)

    with pytest.raises(StoppedError):
        stopped()


def test_an_older_question_gives_up_its_turn():
    entered, leave = threading.Event(), threading.Event()
    thread = in_a_thread("elsewhere", entered, leave)
    assert entered.wait(PATIENCE_S)
    given_up = threading.Event()

    def older():
        try:
            with task_of("kind", "page"):
                pass
        except PreventUpdate:
            given_up.set()

    waiting = threading.Thread(target=older)
    waiting.start()
    while "page" not in _tasks:
        time.sleep(0.01)
    newest = in_a_thread("page", threading.Event(), leave)
    assert given_up.wait(PATIENCE_S)
    leave.set()
    for each in (thread, waiting, newest):
        each.join(PATIENCE_S)


def test_a_stop_by_hand_before_its_turn_is_told_too():
    entered, leave = threading.Event(), threading.Event()
    elsewhere = in_a_thread("elsewhere", entered, leave)
    assert entered.wait(PATIENCE_S)
    stopped = threading.Event()

    def ask():
        try:
            with task_of("kind", "page"):
                pass
        except StoppedError:
            stopped.set()

    waiting = threading.Thread(target=ask)
    waiting.start()
    while "page" not in _tasks:
        time.sleep(0.01)
    _tasks["page"].stop()
    assert stopped.wait(PATIENCE_S)
    assert "page" not in _tasks
    leave.set()
    for each in (elsewhere, waiting):
        each.join(PATIENCE_S)


def test_who_waits_is_told_how_far_the_one_before_is():
    entered, leave = threading.Event(), threading.Event()
    elsewhere = in_a_thread("elsewhere", entered, leave)
    assert entered.wait(PATIENCE_S)
    _tasks["elsewhere"].note(3, 8)
    seen = []

    def ask():
        with task_of("kind", "page") as task:
            seen.append((task.done, task.most))

    waiting = threading.Thread(target=ask)
    waiting.start()
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end and ("page" not in _tasks or _tasks["page"].most != 8):
        time.sleep(0.01)
    assert (_tasks["page"].done, _tasks["page"].most) == (3, 8)
    leave.set()
    for each in (elsewhere, waiting):
        each.join(PATIENCE_S)
    assert seen == [(0, 0)]


def test_loops_within_a_task_show_how_far_it_is_and_end_when_it_is_stopped():
    with task_of("kind", "page") as task, heard_by(task.heard):
        tell("setups", 1, 4)
        assert (task.done, task.most) == (1, 4)
        # What the work itself counts says more than any loop of it.
        task.told(2, 3)
        tell("setups", 3, 4)
        assert (task.done, task.most) == (2, 3)
        task.stop()
        with pytest.raises(StoppedError):
            tell("setups", 4, 4)
