"""A log of runs on the page: asks ``curves.measured``, and keeps what it answered."""

from __future__ import annotations

import io
import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from curves import Job, JobError
from curves.errors import Problem
from curves.measured.corrected import corrected
from curves.measured.fit import Fit, fit
from curves.measured.intake import Look
from curves.measured.logs import demo_log, look_at, read_log
from curves.measured.measured_run import Run, runs_in
from curves.measured.overlay import Overlay, overlay
from curves.measured.parameters import MOVABLE
from curves.measured.samples import Log
from curves.plaintext import showable
from dashboard.answers.memory import key_for
from dashboard.answers.setups import Comparison, Reading, known, remembered
from dashboard.state import uploads
from dashboard.state.session import View
from dashboard.widgets.choice import chosen, kept
from dashboard.widgets.progress import StoppedError, Task

PAGE = "log"
DEMO = "demo"
DEMO_NAME = "eighth-mile.csv"
DEMO_SETUP = "16 cells"
USUAL = ("drag-area", "rolling")
CHANNELS = ("speed", "distance", "volts", "amperes")


@dataclass(frozen=True)
class Asked:
    """What is asked of a log.

    Attributes:
        token: Word for the file, empty for none.
        name: Of the file.
        columns: Quantity to heading and unit, as ``read_log`` takes it, in pairs.
        sure: Whether a person has confirmed the columns.
        run: Which run, from 1.
        start: Where it begins, s, if not where found.
        channel: Quantity that is drawn.
        move: What a fit may move.
    """

    token: str = ""
    name: str = ""
    columns: tuple[tuple[str, str], ...] = ()
    sure: bool = False
    run: int = 1
    start: float | None = None
    channel: str = "speed"
    move: tuple[str, ...] = USUAL

    @classmethod
    def of(cls, view: View) -> Asked:
        """As the view keeps it; what cannot be read is left at its default."""
        found = kept(view, PAGE)
        columns, move = found.get("columns"), found.get("move")
        start, run = found.get("start"), found.get("run")
        good = isinstance(start, int | float) and math.isfinite(start)
        return cls(
            token=str(found.get("token", "")),
            name=showable(str(found.get("name", ""))),
            columns=tuple((str(q), str(x)) for q, x in columns.items())
            if isinstance(columns, dict)
            else (),
            sure=bool(found.get("sure")),
            run=run if isinstance(run, int) and run > 0 else 1,
            start=float(start) if good and start is not None else None,
            channel=found["channel"] if found.get("channel") in CHANNELS else "speed",
            move=tuple(x for x in move if x in MOVABLE) if isinstance(move, list) else USUAL,
        )


def with_asked(view: View, **changes: Any) -> View:
    """The view with something else asked of its log."""
    return replace(view, extra={**view.extra, PAGE: {**kept(view, PAGE), **changes}})


@dataclass(frozen=True)
class Seen:
    """A log beside the job.

    Attributes:
        reading: The setup that was ridden.
        runs: Every run in the log.
        run: The one that is looked at.
        before: Beside the job as it is.
        found: A fit, once there is one.
        after: Beside the corrected job.
        better: The corrected job.
    """

    reading: Reading
    runs: tuple[Run, ...]
    run: Run
    before: Overlay
    found: Fit | None = None
    after: Overlay | None = None
    better: Job | None = None


def ridden(compared: Comparison, view: View) -> Reading | None:
    """The setup that was ridden: the one chosen; for the demonstration's log its own."""
    if "slot" not in kept(view, PAGE) and Asked.of(view).token == DEMO:
        own = next((r for r in compared.readings if r.name == DEMO_SETUP), None)
        if own is not None:
            return own
    return chosen(compared, view, PAGE)


@lru_cache(maxsize=16)
def look(token: str, name: str, columns: tuple[tuple[str, str], ...]) -> Look:
    """What a log's columns seem to be.

    Raises:
        JobError: if it is no log, or not at hand any more.
    """
    return look_at(io.BytesIO(_data(token, name)), name=name, columns=dict(columns))


@lru_cache(maxsize=8)
def log_of(token: str, name: str, columns: tuple[tuple[str, str], ...]) -> Log:
    """A log's samples.

    Raises:
        JobError: if it cannot be read; the message names line and reason.
    """
    return read_log(io.BytesIO(_data(token, name)), name=name, columns=dict(columns))


def seen(compared: Comparison, view: View) -> Seen | None:
    """The log beside the job; None before its columns are confirmed.

    Raises:
        JobError: if it cannot be read or holds no run.
    """
    asked, reading = Asked.of(view), ridden(compared, view)
    if not asked.token or not asked.sure or reading is None:
        return None
    log = log_of(asked.token, asked.name, asked.columns)
    found = runs_in(log, reading.rig)
    run = found[min(asked.run, len(found)) - 1]
    if asked.start is not None:
        run = runs_in(log, reading.rig, start=asked.start)[0]
    fitted = known(_fit_kind(compared.job, run, asked.move), [reading.rig])
    if not fitted:
        return Seen(reading, found, run, _beside(compared.job, run, reading))
    better = corrected(compared.job, fitted[0], runs=[run])
    after = overlay(better, [run], starts=fitted[0].starts)[0]
    before = _beside(compared.job, run, reading)
    return Seen(reading, found, run, before, fitted[0], after, better)


def looked(compared: Comparison, view: View) -> Seen | JobError | None:
    """The log beside the job, what is wrong with it, or None while there is none to compare."""
    try:
        return seen(compared, view)
    except JobError as error:
        return error


def work(compared: Comparison, view: View, task: Task) -> None:
    """Fit what may move; a stop leaves things as they were."""
    asked = Asked.of(view)
    here = seen(compared, view)
    if here is None or not asked.move:
        return
    try:
        remembered(
            _fit_kind(compared.job, here.run, asked.move),
            [here.reading.rig],
            lambda _: fit(compared.job, [here.run], asked.move, told=task.told),
        )
    except StoppedError:
        return


def told(error: JobError) -> Sequence[str]:
    """What is wrong with a log, a line a problem."""
    return str(error).splitlines()


def _beside(job: Job, run: Run, reading: Reading) -> Overlay:
    kind = ("beside", key_for(run))
    return remembered(kind, [reading.rig], lambda _: overlay(job, [run])[0])[0]


def _fit_kind(job: Job, run: Run, move: tuple[str, ...]) -> Hashable:
    """A fit is an answer of the whole job, of all that was measured, and of what may move."""
    return "fit", key_for((job, run, move))


def _data(token: str, name: str) -> bytes:
    if token == DEMO:
        return demo_log().read()
    data = uploads.at_hand(token)
    if data is None:
        said = "is no longer at hand, because rimforce was started anew: open it again"
        raise JobError([Problem(name, "", said)])
    return data
