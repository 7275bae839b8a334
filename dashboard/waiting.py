"""Answers that take a moment: the page is drawn without them, asks for them, and is drawn again."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import Any

from dash import Dash, Input, Output, State, dcc, set_props
from dash.exceptions import PreventUpdate

from curves import Rig
from dashboard import ids
from dashboard.results import Comparison, remembered_together
from dashboard.state import View

WORKING = "…"
"""What stands where a number is not known yet."""

_busy = threading.Lock()


class _NotKnownError(Exception):
    """Raised where an answer is not remembered."""


def known(kind: str, rigs: Sequence[Rig]) -> list[Any] | None:
    """What is remembered of some setups, or None if any of it has still to be worked out."""

    def none(_: Sequence[Rig]) -> list[Any]:
        raise _NotKnownError

    try:
        return remembered_together(kind, rigs, none)
    except _NotKnownError:
        return None


def place(key: str, view: View) -> Any:
    """Put on a page, has its answers worked out and the page drawn again."""
    return dcc.Store(id=_id(key), data=view.width)


def fill(
    app: Dash,
    key: str,
    done: Callable[[Comparison, View], bool],
    work: Callable[[Comparison, View], object],
) -> None:
    """Work out what a page lacks, whenever it is opened or its job has rested.

    Args:
        app: The app.
        key: Names the page.
        done: Whether it lacks nothing.
        work: Makes the page's answers be remembered.
    """
    from dashboard.callbacks.showing import read

    # The output is on this page alone, so the others do not ask.
    @app.callback(
        Output(_id(key), "data"),
        Input(ids.SETTLED, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        State(_id(key), "data"),
    )
    def work_out(rested: Any, session: Any, view: Any, width: Any) -> int:
        compared, looked = read(session, view)
        # A page may be drawn before its width is known.
        if done(compared, looked) and width == looked.width:
            raise PreventUpdate
        # One at a time: what is asked twice is found the second time.
        with _busy:
            work(compared, looked)
        # Everything that follows a rested job is drawn again; the count itself says nothing.
        set_props(ids.SETTLED, {"data": float(rested or 0) + 0.001})
        return looked.width


def _id(key: str) -> str:
    return f"working-{key}"
