"""The program: how it is stopped, before it can be and after."""

from __future__ import annotations

import os
import signal
import sys
from types import FrameType

STOPPED_BY = 128
"""What a shell adds to a signal's number for the exit status of a program it has stopped."""


def main() -> int:
    """Run one command of this process's arguments.

    Returns:
        The exit status, as ``curves.cli.main`` gives it.
    """
    _take(signal.SIGINT, signal.default_int_handler, _leave)
    _take(signal.SIGTERM, signal.SIG_DFL, _leave)
    # An interrupt in the midst of these imports would show as a traceback.
    from curves.cli import main as run
    from curves.commands.progress import shown

    _take(signal.SIGINT, _leave, signal.default_int_handler)
    _take(signal.SIGTERM, _leave, _end)
    with shown():
        return run()


def _take(which: signal.Signals, before: object, handler: object) -> None:
    """Handle a signal, if it is handled as it was before: who started this may have it ignored."""
    if signal.getsignal(which) == before:
        signal.signal(which, handler)  # type: ignore[arg-type]


def _leave(number: int, _: FrameType | None) -> None:
    # Nothing is open yet that would have to be closed.
    os._exit(STOPPED_BY + number)


def _end(number: int, _: FrameType | None) -> None:
    raise SystemExit(STOPPED_BY + number)


if __name__ == "__main__":
    sys.exit(main())
