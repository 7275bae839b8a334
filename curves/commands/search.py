"""``search``: ranges and goals in, the setups that meet them and the trade-off front out."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, nullcontext, suppress
from threading import Event
from typing import Annotated

import numpy as np
import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile, JobFile, number_list, opened_job
from curves.commands.output import Answer, give, refuse
from curves.commands.people import ESTIMATES, digits, table
from curves.studies import search as study
from curves.studies.cells import Caps, Hold
from curves.studies.front import parse_goal
from curves.studies.results import PATTERNS, RESULTS, result
from curves.studies.workers import cluster

FORMAT = "rimforce-search-1"
STOPPING = b"rimforce: stopping with what is tried; Ctrl+C once more ends at once\n"
SHOWN = 20
"""Lines of the table for people; JSON and CSV give all that meet the goals."""
KNOWN = ", ".join((*RESULTS, *PATTERNS))


def search(
    job: JobFile = None,
    setup: Annotated[
        list[str] | None,
        typer.Option(help="Setup to start from, once or more often; the first if left out."),
    ] = None,
    vary: Annotated[
        list[str] | None,
        typer.Option(
            metavar="FIELD=START:STOP:STEP",
            help="An input and its values, such as pack.series=10:20:1; once or more often.",
        ),
    ] = None,
    goal: Annotated[
        list[str] | None,
        typer.Option(
            metavar="RESULT>=NUMBER", help=f"A bound to keep, once or more often. Results: {KNOWN}."
        ),
    ] = None,
    trade: Annotated[
        list[str] | None,
        typer.Option(
            metavar="RESULT",
            help="A result the front trades; top speed against the goals' if left out.",
        ),
    ] = None,
    hold: Annotated[Hold, typer.Option(help="What stays while the count changes.")] = "strings",
    caps: Annotated[
        Caps, typer.Option(help="What the power cap and the tune's pack current do then.")
    ] = "present",
    budget: Annotated[
        int, typer.Option(min=1, max=10_000_000, help="The most setups tried.")
    ] = study.BUDGET,
    seed: Annotated[int, typer.Option(min=0, help="The same seed finds the same.")] = 0,
    workers: Annotated[
        int | None, typer.Option(min=1, max=1024, help="Processes; one a core if left out.")
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="A Dask scheduler whose workers do the work."),
    ] = None,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Setups that meet goals, and those that no other beats; Ctrl+C ends it with what it has."""
    opened = opened_job(job)
    rigs = [opened.rig(name) for name in setup] if setup else list(opened.rigs()[:1])
    spans = [_span(text) for text in vary or ()]
    goals = [parse_goal(text) for text in goal or ()]
    objectives = trade or list(dict.fromkeys(("top_speed_kmh", *(g.result for g in goals))))
    if not spans and len(rigs) < 2:
        refuse("--vary", "", "must be given at least once, such as --vary pack.series=10:20:1")
    stop = Event()
    doers = cluster(scheduler) if scheduler is not None else nullcontext(None)
    with doers as executor, _interrupts(stop):
        found = study.search(
            rigs,
            spans,
            goals,
            objectives,
            hold=hold,
            caps=caps,
            budget=budget,
            seed=seed,
            executor=executor,
            workers=workers,
            stop=stop.is_set,
        )
    answer = Answer(
        document=document(found),
        rows=lambda: [flat(found, k) for k in _in_order(found)],
        tables=lambda: _tables(found),
    )
    give(answer, as_json=as_json, csv_file=csv)


def _span(text: str) -> study.Span:
    field, sign, values = text.partition("=")
    if not sign:
        refuse("--vary", text, "must be FIELD=START:STOP:STEP, such as pack.series=10:20:1")
    numbers = np.unique(number_list(values, "--vary", least=None))
    return study.Span(field.strip(), tuple(numbers.tolist()))


@contextmanager
def _interrupts(stop: Event) -> Iterator[None]:
    """The first Ctrl+C asks for a stop; a second one ends the program as usual."""

    def ask(*_: object) -> None:
        stop.set()
        signal.signal(signal.SIGINT, before)
        # Past Python's own buffers, which the interrupt may have found half written.
        with suppress(OSError, ValueError, AttributeError):
            os.write(sys.stderr.fileno(), STOPPING)

    try:
        before = signal.signal(signal.SIGINT, ask)
    except ValueError:
        # Not the main thread: nobody's Ctrl+C arrives here.
        yield
        return
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def document(found: study.Found) -> dict[str, object]:
    """What the JSON gives: every setup that meets the goals, and what comes closest if none does.

    Args:
        found: What the search found.
    """
    return {
        "format": FORMAT,
        "setups": list(found.names),
        "goals": [str(g) for g in found.goals],
        "trades": list(found.objectives),
        "combinations": found.size,
        "tried": len(found.outcome),
        "complete": found.complete,
        "stopped": found.stopped,
        "rows": [_nested(found, k) for k in _in_order(found)],
        "closest": None if found.meets.any() or not len(found.outcome) else _closest(found),
    }


def _closest(found: study.Found) -> dict[str, object]:
    return _nested(found, int(np.argmin(found.missing)))


def _nested(found: study.Found, k: int) -> dict[str, object]:
    return {
        "setup": found.names[found.base[k]],
        "inputs": dict(zip(found.fields, found.values[k], strict=True)),
        "results": dict(zip(found.results, found.outcome[k], strict=True)),
        "on_front": bool(found.front[k]),
    }


def flat(found: study.Found, k: int) -> dict[str, object]:
    """One setup as a line of a spreadsheet.

    Args:
        found: What the search found.
        k: Its row.
    """
    return {
        "setup": found.names[found.base[k]],
        **dict(zip(found.fields, found.values[k], strict=True)),
        **dict(zip(found.results, found.outcome[k], strict=True)),
        "on_front": bool(found.front[k]),
    }


def _in_order(found: study.Found) -> list[int]:
    """Rows that meet the goals: the front first, the best in the first objective before others."""
    first = result(found.objectives[0])
    column = found.outcome[:, found.results.index(first.name)]
    rows = np.flatnonzero(found.meets)
    order = np.lexsort((-first.best * np.nan_to_num(column[rows]), ~found.front[rows]))
    return [int(k) for k in rows[order]]


def _tables(found: study.Found) -> Iterable[RenderableType]:
    rows = _in_order(found)
    tried = f"{len(found.outcome):,} of {found.size:,} combinations tried"
    ended = " (stopped before its end)" if found.stopped else ""
    if not len(found.outcome):
        yield f"Nothing tried{ended}."
        return
    if rows:
        front = int(found.front.sum())
        yield f"{len(rows):,} meet every goal, {front:,} of them on the front; {tried}{ended}."
    else:
        rows = [int(np.argmin(found.missing))]
        yield f"None meets every goal; {tried}{ended}. The closest is shown."
    names = [result(name) for name in found.results]
    columns = (
        "setup",
        *found.fields,
        *(f"{one.title} {one.unit}".rstrip() for one in names),
        "on the front",
    )
    lines = [
        [
            found.names[found.base[k]],
            *(f"{x:.4g}" for x in found.values[k]),
            *(digits(x) for x in found.outcome[k]),
            "yes" if found.front[k] else "",
        ]
        for k in rows[:SHOWN]
    ]
    yield table(columns, lines, words=2)
    if len(rows) > SHOWN:
        yield f"The first {SHOWN} are shown; --csv and --json give all."
    yield ESTIMATES
