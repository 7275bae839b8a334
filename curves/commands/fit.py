"""``fit``: parameters of a job from logs of runs, with intervals, and the job corrected."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Annotated

import numpy as np
import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile, opened_job
from curves.commands.output import Answer, give, refuse, warn, write_file
from curves.commands.people import digits, table
from curves.measured.corrected import corrected
from curves.measured.fit import Fit
from curves.measured.fit import fit as fitted
from curves.measured.logs import demo_log, read_log
from curves.measured.measured_run import Run, runs_in
from curves.measured.overlay import Overlay, Split, overlay
from curves.measured.parameters import MOVABLE
from curves.motion.runs import Targets
from curves.parts.job import Job, dump_job
from curves.units import FOOT, KMH

FORMAT = "rimforce-fit-1"
DEMO_SETUP = "16 cells"
PARAMETERS = ("moved", "was", "is", "± standard", "95 % from", "to", "drawn from", "to")
SPLITS = ("split", "measured", "± standard", "job", "off by", "corrected", "off by")
CAUTION = (
    "Intervals hold if everything that was not moved is as the job says. Ride where it is safe and "
    "allowed; values are estimates."
)


def fit(
    logs: Annotated[
        list[str] | None,
        typer.Argument(metavar="[LOG]...", help="CSV or GPX logs; the demo's if left out."),
    ] = None,
    job: Annotated[
        str | None, typer.Option(metavar="JOB", help="Job file; the demo job if left out.")
    ] = None,
    setup: Annotated[
        list[str] | None,
        typer.Option(help="Setup that was ridden: one for all logs, or one a log in their order."),
    ] = None,
    move: Annotated[
        str, typer.Option(metavar="WORD,…", help=f"What may move: {', '.join(MOVABLE)}.")
    ] = "drag-area,rolling",
    columns: Annotated[
        str,
        typer.Option(
            metavar="QUANTITY=NAME:UNIT,…", help="What columns mean, where the guess is wrong."
        ),
    ] = "",
    run: Annotated[
        int | None, typer.Option(min=1, help="Which run of each log, from 1; all if left out.")
    ] = None,
    start_s: Annotated[
        float | None, typer.Option(help="Where the run begins in the log, s, if not where found.")
    ] = None,
    rollout_ft: Annotated[
        float, typer.Option(min=0.0, max=100.0, help="Distance at which splits start to count.")
    ] = 0.0,
    draws: Annotated[
        int, typer.Option(min=0, max=10_000, help="Bootstrap draws for the second interval.")
    ] = 200,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="JOB", help="Write the corrected job here."),
    ] = None,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Move what a job is unsure of until it predicts the runs that were measured."""
    stays(job, output)
    opened = opened_job(job)
    runs = _runs(opened, logs or [], setup or [], named_columns(columns), run, start_s)
    found = fitted(opened, runs, [word.strip() for word in move.split(",")], draws=draws)
    better = corrected(opened, found, runs=runs)
    targets = Targets(roll_out=rollout_ft * FOOT)
    before = overlay(opened, runs, targets=targets)
    after = overlay(better, runs, starts=found.starts, targets=targets)
    if output is not None:
        write_corrected(output, better, job)
    answer = Answer(
        document=_document(found, before, after),
        rows=lambda: _samples(after),
        tables=lambda: _tables(found, before, after, output),
    )
    give(answer, as_json=as_json, csv_file=csv)


def stays(job: str | None, output: Path | None) -> None:
    """Refuse to write a corrected job over the one it comes from."""
    if output is not None and job is not None and output.exists() and output.samefile(job):
        refuse("-o", str(output), "is the job itself, which stays: name another file")


def write_corrected(output: Path, better: Job, job: str | None) -> None:
    """Write a corrected job beside the one it comes from, and say so."""
    write_file(output, dump_job(better), option="-o")
    warn(f"{output}: corrected job; {job or 'the demo job'} stays as it was")


def _runs(
    job: Job,
    logs: Sequence[str],
    setups: Sequence[str],
    columns: dict[str, str],
    number: int | None,
    start: float | None,
) -> list[Run]:
    """The runs of every log."""
    if not logs and not setups:
        setups = [DEMO_SETUP] if any(s.name == DEMO_SETUP for s in job.setup) else []
    sources = list(logs) or [""]
    names = list(setups) or [job.setup[0].name]
    names = names * len(sources) if len(names) == 1 else names
    if len(names) != len(sources):
        refuse(
            "--setup", ", ".join(names), f"name one setup, or one for each of {len(sources)} logs"
        )
    found: list[Run] = []
    for source, name in zip(sources, names, strict=True):
        rig = job.rig(name)
        log = (
            read_log(source, columns=columns)
            if source
            else read_log(demo_log(), name="eighth-mile.csv", columns=columns)
        )
        runs = runs_in(log, rig, start=start)
        if number is not None and number > len(runs):
            refuse("--run", str(number), f"{log.name} has {len(runs)} run{'s' * (len(runs) > 1)}")
        found += runs if number is None else [runs[number - 1]]
    return found


def named_columns(text: str) -> dict[str, str]:
    """What ``--columns`` says, as ``read_log`` takes it."""
    said = {}
    for item in filter(None, (part.strip() for part in text.split(","))):
        quantity, equals, name = item.partition("=")
        if not equals:
            refuse("--columns", item, "must be quantity=NAME or quantity=NAME:unit")
        said[quantity.strip()] = name.strip()
    return said


def _document(found: Fit, before: Sequence[Overlay], after: Sequence[Overlay]) -> dict[str, object]:
    low, high = found.drawn_interval()
    noises = dict(zip(found.series, found.regression.noises, strict=True))
    return {
        "format": FORMAT,
        "parameters": [
            {
                "name": p.name,
                "field": ".".join(str(key) for key in p.path),
                "was": p.start,
                "value": found.values[k],
                "standard_uncertainty": found.uncertainty[k],
                "low": found.low[k],
                "high": found.high[k],
                "drawn_low": low[k],
                "drawn_high": high[k],
            }
            for k, p in enumerate(found.parameters)
        ],
        "correlation": found.correlation,
        "words": list(found.words),
        "runs": [
            {
                "name": old.run.name,
                "setup": old.run.setup,
                "start_s": old.run.began + found.starts[k],
                "speed_noise_m_s": noises[(old.run.name, "speed")].sigma,
                "speed_noise_memory_s": noises[(old.run.name, "speed")].memory,
                "notes": list(old.run.notes),
                "splits": [_split(a, b) for a, b in zip(old.splits, new.splits, strict=True)],
            }
            for k, (old, new) in enumerate(zip(before, after, strict=True))
        ],
    }


def _split(old: Split, new: Split) -> dict[str, object]:
    by_speed = old.kind == "speed"
    target = {"target_kmh": old.target / KMH} if by_speed else {"target_m": old.target}
    unit, per = ("speed_kmh", KMH) if old.kind == "speed at distance" else ("time_s", 1.0)
    return {
        "kind": "speed" if by_speed else "distance",
        **target,
        unit: new.measured / per,
        "standard_uncertainty": new.uncertainty / per,
        "predicted_before": old.predicted / per,
        "predicted": new.predicted / per,
    }


def _samples(overlays: Sequence[Overlay]) -> list[dict[str, object]]:
    """Every sample, measured and predicted by the corrected job."""
    channels = sorted({name for one in overlays for name in one.measured})
    rows = []
    for one in overlays:
        for k, time in enumerate(one.time):
            row: dict[str, object] = {"run": one.run.name, "time_s": time}
            for name in channels:
                ours, theirs = one.measured.get(name), one.predicted.get(name)
                row[f"measured_{name}"] = np.nan if ours is None else ours[k]
                row[f"predicted_{name}"] = np.nan if theirs is None else theirs[k]
            rows.append(row)
    return rows


def _tables(
    found: Fit, before: Sequence[Overlay], after: Sequence[Overlay], output: Path | None
) -> Iterable[RenderableType]:
    low, high = found.drawn_interval()
    yield table(
        PARAMETERS,
        [
            [
                f"{p.name}, {p.path[-1]}",
                digits(p.start, 4),
                digits(found.values[k], 4),
                digits(found.uncertainty[k], 2),
                *(digits(x, 3) for x in (found.low[k], found.high[k], low[k], high[k])),
            ]
            for k, p in enumerate(found.parameters)
        ],
        title="What was moved",
    )
    if len(found.parameters) > 1:
        names = [p.name for p in found.parameters]
        rows = [
            [name, *(f"{x:+z.2f}" for x in found.correlation[k])] for k, name in enumerate(names)
        ]
        yield table(("correlation", *names), rows)
    for old, new in zip(before, after, strict=True):
        begins = f"begins at {old.run.began:z.2f} s of the log"
        both = zip(old.splits, new.splits, strict=True)
        rows = [_row(a, b) for a, b in both if np.isfinite(b.measured)]
        yield table(SPLITS, rows, title=f"{old.run.name}: {old.run.setup}, {begins}")
        yield from old.run.notes
    yield from (f"Look: {word}" for word in found.words)
    yield CAUTION
    if output is None:
        yield "-o JOB writes the corrected job to a new file."


def _row(old: Split, new: Split) -> list[str]:
    if old.kind == "speed":
        name, per = f"s to {old.target / KMH:z.1f} km/h", 1.0
    elif old.kind == "distance":
        name, per = f"s to {old.target / FOOT:z.0f} ft", 1.0
    else:
        name, per = f"km/h at {old.target / FOOT:z.0f} ft", KMH
    off = [f"{d / per:+z.2f}" if np.isfinite(d) else "–" for d in (old.difference, new.difference)]
    return [
        name,
        digits(new.measured / per),
        digits(new.uncertainty / per, 1),
        digits(old.predicted / per),
        off[0],
        digits(new.predicted / per),
        off[1],
    ]
