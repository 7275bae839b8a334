"""Working out what a page is about to ask, while the person is still at it."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable

REST_S = 0.025
"""Without a newer wish, until work on one begins: who types on wants no answer to the last key."""
_turns = itertools.count(1)
_newest = 0


def look_ahead(*steps: Callable[[], object]) -> None:
    """Do some work later, step by step, unless somebody has another wish by then.

    Args:
        steps: Each asks for something that is remembered; none at all ends what others wished.
    """
    global _newest
    _newest = mine = next(_turns)

    def work() -> None:
        for step in steps:
            if _newest == mine:
                step()

    if steps:
        timer = threading.Timer(REST_S, work)
        timer.daemon = True
        timer.start()
