"""What a command shows on standard error while it works: nothing at first, then how far it is."""

from __future__ import annotations

import contextlib
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic

from curves.pace import heard_by

SILENT_S = 1.5
"""Work that is over by then shows nothing; on a terminal a bar then moves, else lines follow at
this distance."""
REDRAWN_S = 0.25


class _Shown:
    """What is shown of work under way, from a thread of its own."""

    def __init__(self) -> None:
        self._since, self._told = monotonic(), ("", 0, 0)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._show, daemon=True)
        self._thread.start()

    def hear(self, what: str, done: int, most: int) -> None:
        self._told = what, done, most

    def end(self) -> None:
        """Take away what is shown and show nothing more."""
        self._over.set()
        if self._thread is not threading.current_thread():
            self._thread.join()

    def _show(self) -> None:
        # A standard error that is closed, or goes, is no reason to stop the work.
        with contextlib.suppress(OSError, ValueError, AttributeError):
            if self._over.wait(SILENT_S):
                return
            if sys.stderr.isatty():
                self._bar()
            else:
                self._lines()

    def _lines(self) -> None:
        while True:
            what, done, most = self._told
            far = f", {what}: {done:,} of {most:,}" if most else ""
            sys.stderr.write(f"rimforce: at work for {monotonic() - self._since:.0f} s{far}\n")
            sys.stderr.flush()
            if self._over.wait(SILENT_S):
                return

    def _bar(self) -> None:
        from rich.console import Console
        from rich.progress import Progress

        with Progress(console=Console(stderr=True), transient=True) as bar:
            task = bar.add_task("at work", total=None)
            while not self._over.wait(REDRAWN_S):
                what, done, most = self._told
                bar.update(task, description=what or "at work", completed=done, total=most or None)


_under_way: list[_Shown] = []


@contextmanager
def shown() -> Iterator[None]:
    """Show how far the work done meanwhile is, until it is over or something is printed."""
    shown = _Shown()
    _under_way.append(shown)
    try:
        with heard_by(shown.hear):
            yield
    finally:
        shown.end()
        _under_way.remove(shown)


def quiet() -> None:
    """Show nothing more of work under way: its answer is about to be printed."""
    for shown in _under_way:
        shown.end()
