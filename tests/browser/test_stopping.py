"""Studies that are stopped, by hand or with their server, go on.

How fast a study runs must not matter: its work waits at a gate that the test holds, so it is still
under way when it is stopped, on any machine.
"""

import itertools
import threading
from urllib.parse import urljoin

import pytest
from playwright.sync_api import expect

from curves import load_job
from dashboard.widgets import progress as waiting
from tests.browser.conftest import NO_TOUR, PATIENCE_MS
from tests.browser.test_gone import Server

SAMPLES = 1024
KEPT = f'{{"slot": 0, "count": "{SAMPLES}", "odds": "top speed"}}'
ASKED = f"""
if (!localStorage.getItem('rimforce/view'))
  localStorage.setItem('rimforce/view', '{{"extra": {{"sure": {KEPT}}}}}')
"""
WORKING = "#working-sure-row"
told = waiting.Task.told


class Gate:
    """Holds work where it says how far it is, until it is let through or not wanted any more."""

    def __init__(self):
        self._open = threading.Event()

    def hold(self, task, done, most):
        """Stand in for ``Task.told``. What waits for its turn tells on how far the other is."""
        task.note(done, most)
        if task not in waiting._under_way.values():
            return told(task, done, most)
        while not (task.stopped or self._open.wait(0.02)):
            pass
        return told(task, done, most)

    def let_through(self):
        self._open.set()


@pytest.fixture
def gate(monkeypatch):
    """Every study waits at it; when the test is over all go on."""
    held = Gate()
    monkeypatch.setattr(waiting.Task, "told", lambda *said: held.hold(*said))
    yield held
    held.let_through()


RIDERS_KG = itertools.count(70)


@pytest.fixture
def one():
    """A job of one setup, each time another: what one test had worked out answers no other."""
    job = load_job().replace("setup", load_job().tree()["setup"][:1])
    return job.replace("bike.cargo.rider_kg", next(RIDERS_KG))


@pytest.fixture
def opened(browser):
    """Open "How sure?" for a long study; nothing goes on when the test is over."""
    context = browser.new_context()
    context.set_default_timeout(PATIENCE_MS)
    for script in (NO_TOUR, ASKED):
        context.add_init_script(script)

    def start(address):
        page = context.new_page()
        page.goto(urljoin(address, "sure"))
        expect(page.get_by_role("textbox", name="Samples")).to_have_value("1,024")
        expect(page.locator(WORKING)).to_contain_text("of 1,024 done")
        return page

    yield start
    context.close()
    stop_work()


def stop_work():
    """What ends with a server's process."""
    for task in list(waiting._tasks.values()):
        task.stop()


def ask_less(page, gate):
    """A shorter study, which takes the place of the one under way and is answered."""
    page.get_by_role("textbox", name="Samples").click()
    page.get_by_role("option", name="256").click()
    gate.let_through()
    expect(page.locator("h1")).to_contain_text("nine times in ten")
    expect(page.locator("#page-answer")).to_contain_text("256 samples")
    expect(page.locator(".working:visible")).to_have_count(0)


def test_a_study_is_stopped_and_goes_on(serve, opened, one, gate):
    page = opened(serve(one))
    page.get_by_role("button", name="Stop").click()
    stopped = page.get_by_text("Stopped before its end.")
    expect(stopped).to_be_visible()
    expect(page.locator(WORKING)).to_be_hidden()
    expect(page.locator("h1")).to_contain_text("Trying setups")
    page.get_by_role("button", name="Go on").click()
    expect(page.locator(WORKING)).to_be_visible()
    expect(stopped).to_be_hidden()
    # Another question takes the place of the one that is under way.
    ask_less(page, gate)


def test_a_server_that_stops_in_a_study_takes_it_up_again(opened, one, gate):
    server = Server(one)
    try:
        page = opened(server.start())
        server.stop()
        stop_work()
        expect(page.locator("#message")).to_contain_text("has stopped")
        server.start()
        expect(page.locator("#message")).to_be_empty()
        expect(page.locator(WORKING)).to_contain_text("of 1,024 done")
        ask_less(page, gate)
    finally:
        server.stop()
