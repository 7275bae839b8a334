"""Answers that take a moment: the page is drawn without them, asks for them, and is drawn again.

While they are worked out the page shows how far they are and a button that stops them.
"""

from __future__ import annotations

import threading
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any
from uuid import uuid4

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, ctx, dcc, html, no_update, set_props
from dash.exceptions import PreventUpdate

from curves.pace import heard_by
from dashboard.answers.setups import Comparison, read
from dashboard.base import ids
from dashboard.base.words import number
from dashboard.server.guard import asker_gone
from dashboard.state.session import View
from dashboard.widgets.attributes import attributes

WORKING = "…"
"""What stands where a number is not known yet."""
POLL_MS = 400
"""How often a page asks how far its answers are."""
PATIENCE_S = 0.1
"""How often one who waits for his turn looks whether he is still wanted."""


class StoppedError(Exception):
    """Raised in work that is not wanted any more."""


class Task:
    """Work under way: how far it is, and whether it is still wanted."""

    def __init__(self, gone: Callable[[], bool] = lambda: False) -> None:
        self.done, self.most, self._loops = 0, 0, False
        self._unwanted = threading.Event()
        self._gone = gone

    def stop(self) -> None:
        """Ask it to stop."""
        self._unwanted.set()

    @property
    def stopped(self) -> bool:
        """Whether it was asked to stop, or nobody is there any more for whom it is done."""
        return self._unwanted.is_set() or self._gone()

    def note(self, done: int, most: int) -> None:
        """Say how far it is."""
        self.done, self.most, self._loops = done, most, False

    def told(self, done: int, most: int) -> None:
        """Say how far it is.

        Raises:
            StoppedError: if it is not wanted any more.
        """
        self.note(done, most)
        if self.stopped:
            raise StoppedError

    def heard(self, _: str, done: int, most: int) -> None:
        """Hear how far a loop within the work is; shown where the work itself counts nothing.

        Raises:
            StoppedError: if it is not wanted any more.
        """
        if self.stopped:
            raise StoppedError
        if self._loops or not self.most:
            self.done, self.most, self._loops = done, most, True


Work = Callable[[Comparison, View, Task], object]

_tasks: dict[str, Task] = {}
"""By the opened page that asked: each has one at most."""
_under_way: dict[str, Task] = {}
"""Of every kind, the one whose turn it is."""
_turns: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)
"""One piece of work of a kind at a time: what is asked twice is found the second time."""


def place(key: str, view: View) -> Any:
    """Put on a page, has its answers worked out and the page drawn again."""
    return html.Div(
        [
            dcc.Store(id=_id(key), data={"width": view.width, "page": uuid4().hex}),
            dcc.Interval(id=_id(key, "tick"), interval=POLL_MS, disabled=True),
            html.Div(
                [
                    dmc.Progress(
                        id=_id(key, "bar"), value=0, **attributes(aria_label="How far it is")
                    ),
                    html.Span("Working …", id=_id(key, "said"), role="status"),
                    dmc.Button("Stop", id=_id(key, "stop"), variant="default", size="compact-sm"),
                ],
                id=_id(key, "row"),
                className="working",
                hidden=True,
            ),
            html.Div(
                [
                    html.Span("Stopped before its end."),
                    dmc.Button("Go on", id=_id(key, "again"), variant="default", size="compact-sm"),
                ],
                id=_id(key, "halted"),
                className="working",
                hidden=True,
            ),
        ]
    )


def fill(app: Dash, key: str, done: Callable[[Comparison, View], bool], work: Work) -> None:
    """Work out what a page lacks, whenever it is opened or its job has rested.

    Args:
        app: The app.
        key: Names the page.
        done: Whether it lacks nothing.
        work: Makes the page's answers be remembered, and tells its task how far it is.
    """

    # The output is on this page alone, so the others do not ask.
    @app.callback(
        Output(_id(key), "data"),
        Output(_id(key, "halted"), "hidden"),
        Input(ids.SETTLED, "data"),
        Input(_id(key, "again"), "n_clicks"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        State(_id(key), "data"),
        running=_running(key),
    )
    def work_out(rested: Any, _again: Any, session: Any, view: Any, kept: Any) -> Any:
        compared, looked = read(session, view)
        # A page may be drawn before its width is known.
        if done(compared, looked) and kept["width"] == looked.width:
            raise PreventUpdate
        try:
            with task_of(key, kept["page"]) as task, heard_by(task.heard):
                work(compared, looked, task)
        except StoppedError:
            return no_update, False
        # Everything that follows a rested job is drawn again; the count itself says nothing.
        set_props(ids.SETTLED, {"data": float(rested or 0) + 0.001})
        return {**kept, "width": looked.width}, True

    _progress(app, key)


def start(app: Dash, key: str, button: str, work: Work) -> None:
    """Work something out when a button is pressed; what a stop leaves is kept.

    Args:
        app: The app.
        key: Names the page.
        button: The button's name.
        work: Makes what was found be remembered, stopped or not.
    """

    @app.callback(
        Output(_id(key), "data"),
        Input(button, "n_clicks"),
        State(ids.SETTLED, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        State(_id(key), "data"),
        running=[*_running(key), (Output(button, "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def work_out(clicks: Any, rested: Any, session: Any, view: Any, kept: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        try:
            with task_of(key, kept["page"]) as task:
                work(*read(session, view), task)
        except StoppedError:
            raise PreventUpdate from None
        set_props(ids.SETTLED, {"data": float(rested or 0) + 0.001})
        return no_update

    _progress(app, key)


@contextmanager
def task_of(key: str, page: str) -> Iterator[Task]:
    """A task for an opened page, in its turn; what that page asked before is not wanted any more.

    Args:
        key: Kind of work.
        page: Which opened page asks.

    Raises:
        PreventUpdate: if that page asked for something newer meanwhile.
        StoppedError: if it was stopped by hand, before its turn came or after.
    """
    task, turn = Task(asker_gone()), _turns[key]
    if before := _tasks.get(page):
        before.stop()
    _tasks[page] = task
    try:
        while not turn.acquire(timeout=PATIENCE_S):
            # Mostly the same question, asked by this page before it was drawn anew.
            awaited = _under_way.get(key, task)
            task.told(awaited.done, awaited.most)
        _under_way[key] = task
        task.note(0, 0)
        try:
            yield task
        finally:
            del _under_way[key]
            turn.release()
    except StoppedError:
        if _tasks.get(page) is not task:
            raise PreventUpdate from None
        raise
    finally:
        if _tasks.get(page) is task:
            del _tasks[page]


def _running(key: str) -> list[tuple[Any, Any, Any]]:
    return [
        (Output(_id(key, "row"), "hidden"), False, True),
        (Output(_id(key, "tick"), "disabled"), False, True),
    ]


def _progress(app: Dash, key: str) -> None:
    @app.callback(
        Output(_id(key, "bar"), "value"),
        Output(_id(key, "said"), "children"),
        Input(_id(key, "tick"), "n_intervals"),
        Input(_id(key, "stop"), "n_clicks"),
        State(_id(key), "data"),
        prevent_initial_call=True,
    )
    def progress(_ticks: Any, _clicks: Any, kept: Any) -> tuple[Any, Any]:
        task = _tasks.get(kept["page"])
        if task is None:
            return 0, "Working …"
        if ctx.triggered_id == _id(key, "stop"):
            task.stop()
            return no_update, "Stopping …"
        if not task.most:
            return 0, "Working …"
        said = f"{number(task.done)} of {number(task.most)} done"
        return 100 * task.done / task.most, said


def _id(key: str, part: str = "") -> str:
    return f"working-{key}{part and '-'}{part}"
