"""How far long work is: loops tell it, and whoever shows or stops the work listens."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeAlias

Listener: TypeAlias = Callable[[str, int, int], None]

_listener: ContextVar[Listener | None] = ContextVar("listener", default=None)


@contextmanager
def heard_by(listener: Listener) -> Iterator[None]:
    """Have everything that is worked out meanwhile, in this thread, tell a listener.

    Args:
        listener: Told what is counted, how many are done and how many there are; what it raises
            ends the work.
    """
    before = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(before)


def tell(what: str, done: int, most: int) -> None:
    """Say how far work is.

    Args:
        what: Is counted, in the plural.
        done: How many are done.
        most: How many there are.
    """
    listener = _listener.get()
    if listener is not None:
        listener(what, done, most)
