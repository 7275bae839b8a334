"""A thread's processor time as multiples of a bare loop: alike on any machine, busy or not."""

import time
from collections.abc import Callable

TURNS = 300_000


def loops(work: Callable[[], object], tries: int = 3) -> float:
    """This thread's processor time for some work, in bare loops timed beside it, at best."""
    return min(_spent(work) / _spent(_loop) for _ in range(tries))


def _loop() -> None:
    k = 0
    while k < TURNS:
        k += 1


def _spent(work: Callable[[], object]) -> float:
    start = time.thread_time()
    work()
    return time.thread_time() - start
