"""What somebody sent to break the pages: answered or refused, with no fault and no endless wait.

``RIMFORCE_HOSTILE=60000 python -m pytest -m slow tests/properties/test_hostile_pages.py`` tries so
many, ``RIMFORCE_HOSTILE_SEED=7`` others; a failure names the number that makes it again.
"""

import os
import random

import pytest

from dashboard.widgets import progress as waiting
from tests.hostile import Pages, ask

FEW, MANY = 240, int(os.environ.get("RIMFORCE_HOSTILE", "60000"))
SEED = int(os.environ.get("RIMFORCE_HOSTILE_SEED", "0"))
COUNTS = pytest.mark.parametrize("count", [FEW, pytest.param(MANY, marks=pytest.mark.slow)])
LONGEST_S = 5.0
"""Of the processor’s own time for one answer, which no other program on the machine adds to. Motors
with measured saturation are slower yet, and on their way to be quicker."""
SHOWN = 10


@pytest.fixture(scope="module")
def asked():
    return Pages()


@pytest.fixture(autouse=True)
def no_study(monkeypatch):
    """Studies have bars of their own, and stop here as soon as they look whether they should."""
    monkeypatch.setattr(waiting.Task, "stopped", property(lambda _: True))


def tried(asked, numbers, cases):
    wrong = []
    for number in numbers:
        rng = random.Random(number)
        for case in cases(rng):
            said = ask(asked, case)
            if said.wrong or (said.seconds > LONGEST_S and b"torque_derating" not in case.body):
                wrong.append(f"{number}: {said.wrong} {said.seconds:.1f} s\n  {case.told}")
    assert not wrong, f"{len(wrong)} of {len(numbers)}\n" + "\n".join(wrong[:SHOWN])


@COUNTS
def test_callbacks_with_damaged_values(asked, count):
    """A third of all: what the browser keeps, and every value that a callback receives."""
    first = 1_000_000 * SEED
    numbers = range(first, first + count // 3)
    tried(asked, numbers, lambda rng: [asked.callback(rng)])


@COUNTS
def test_what_is_typed(asked, count):
    first = 1_000_000 * SEED + 300_000
    numbers = range(first, first + count // 6)
    tried(asked, numbers, lambda rng: [asked.typed(rng)])


@COUNTS
def test_files_and_links_and_the_pages_of_what_they_hold(asked, count):
    """The other half; of three requests each where a job came out of it."""

    def cases(rng):
        opened = asked.opened(rng)
        yield opened
        session = (ask(asked, opened).answer or {}).get("response", {}).get("session", {})
        if "data" in session:
            yield from asked.looks(rng, session["data"])

    first = 1_000_000 * SEED + 600_000
    tried(asked, range(first, first + count // 2), cases)
