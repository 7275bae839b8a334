"""``packs``: a setup with packs of other counts, and where more volts stop helping."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

import numpy as np
import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile, JobFile, number_list, opened_job
from curves.commands.output import Answer, give
from curves.commands.people import ESTIMATES, results
from curves.parts.goals import Goals
from curves.present.packs import pack_columns
from curves.present.table import picked, records
from curves.studies import packs as study
from curves.studies.cells import Caps, Hold
from curves.words.packs import for_goals, sentence

FORMAT = "rimforce-packs-1"
SHOWN = ("series", "strings", "open_circuit_v", "pack_kg", "top_speed_kmh_0", "pack_current_a",
         "phase_current_a", "limited_by")  # fmt: skip
"""Columns of the table for people."""


def packs(
    job: JobFile = None,
    setup: Annotated[
        str | None, typer.Option(help="Name of the setup; the first if left out.")
    ] = None,
    series: Annotated[
        str, typer.Option(metavar="FIRST:LAST", help="Cells in series, whole counts.")
    ] = "10:24",
    hold: Annotated[Hold, typer.Option(help="What stays while the count changes.")] = "strings",
    caps: Annotated[
        Caps,
        typer.Option(help="What the power cap and the tune's pack current do."),
    ] = "present",
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Top speed over the number of cells in series, and the count where more stop helping."""
    counts = _counts(series)
    opened = opened_job(job)
    rig = opened.rigs()[0] if setup is None else opened.rig(setup)
    hill = opened.goals.hill_percent
    roads = [rig.conditions.grade_percent, *([] if hill is None else [hill])]
    sweep = study.pack_sweep(rig, counts, hold=hold, caps=caps, grade_percent=roads)
    columns = pack_columns(sweep)
    top = columns["top_speed_kmh_0"]._replace(key="top_speed_kmh")
    known = (columns["series"], columns["open_circuit_v"], top, columns["limited_by"])
    rows = records(known)
    knee = sweep.knee.count[0, 0]
    document = {
        "format": FORMAT,
        "rows": rows,
        "stops_helping_at_series": None if np.isnan(knee) else int(knee),
    }
    answer = Answer(
        document=document, rows=lambda: rows, tables=lambda: _tables(sweep, opened.goals)
    )
    give(answer, as_json=as_json, csv_file=csv)


def _counts(text: str) -> list[int]:
    # FIRST:LAST goes up by one; everything else reads as lists do elsewhere.
    spans = [f"{part}:1" if part.count(":") == 1 else part for part in text.split(",")]
    numbers = number_list(",".join(spans), "--series")
    return [int(n) if n == int(n) else n for n in numbers.tolist()]


def _tables(sweep: study.PackSweep, goals: Goals) -> Iterable[RenderableType]:
    yield " ".join([sentence(sweep), *for_goals(sweep, goals)])
    yield results(picked(pack_columns(sweep), *SHOWN), title=sweep.name)
    yield ESTIMATES
