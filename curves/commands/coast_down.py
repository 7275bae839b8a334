"""``coast-down``: rolling resistance and drag from coasting, by stop-watch or from logs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import numpy as np
import typer
from rich.console import RenderableType

from curves.commands.fit import DEMO_SETUP, named_columns, stays, write_corrected
from curves.commands.options import AsJson, CsvFile, opened_job
from curves.commands.output import Answer, give, refuse
from curves.commands.people import digits, table
from curves.measured.coastdown import Coast, Direction, Stretch, from_logs, from_times
from curves.measured.coasts import USUAL_TO, coast_in, rolled_of, with_road_load
from curves.measured.logs import demo_coast_text, read_log, read_text
from curves.measured.readings import parse_bench
from curves.parts.rig import Rig
from curves.units import PERCENT

FORMAT = "rimforce-coast-down-1"
COLUMNS = ("", "value", "± standard", "unit")
UNITS = ("N", "N/(m/s)", "N/(m/s)²")
CAUTION = (
    "Coast where it is safe and allowed, both ways along one road, on a calm day; values are "
    "estimates that hold for the mass given."
)

Log = list[str] | None


def coast_down(
    file: Annotated[
        str | None,
        typer.Argument(metavar="[FILE]", help="Times in a file of readings; the demo's if none."),
    ] = None,
    out: Annotated[
        Log, typer.Option(metavar="LOG", help="A log of coasting one way; may be repeated.")
    ] = None,
    back: Annotated[
        Log, typer.Option(metavar="LOG", help="A log of coasting the other way; may be repeated.")
    ] = None,
    job: Annotated[
        str | None, typer.Option(metavar="JOB", help="Job file; the demo job if left out.")
    ] = None,
    setup: Annotated[
        str | None,
        typer.Option(help="Setup that rolled: mass and air of logs, and what its motor drags."),
    ] = None,
    from_kmh: Annotated[
        float | None, typer.Option(help="Speed from which a log counts; its highest if left out.")
    ] = None,
    to_kmh: Annotated[float, typer.Option(help="Speed down to which it counts.")] = USUAL_TO,
    mass_kg: Annotated[
        float | None, typer.Option(help="Mass that rolled in the logs, if not the setup's.")
    ] = None,
    linear: Annotated[
        bool, typer.Option("--linear", help="Let a part grow evenly with speed (f1) too.")
    ] = False,
    columns: Annotated[
        str,
        typer.Option(metavar="QUANTITY=NAME:UNIT,…", help="What columns of the logs mean."),
    ] = "",
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="JOB", help="Write the job with it here."),
    ] = None,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Rolling resistance and drag in standard air, wind and slope told from the bike."""
    logs: list[tuple[str, Direction]] = [(log, "out") for log in out or []]
    logs += [(log, "back") for log in back or []]
    if file is not None and logs:
        refuse("--out, --back", "", "give either a file of times or logs")
    stays(job, output)
    opened = opened_job(job)
    name = DEMO_SETUP if (file, job, setup, logs) == (None, None, None, []) else setup
    if output is not None and name is None:
        refuse("-o", str(output), "needs --setup: its bike takes the values")
    rig = None if name is None else opened.rig(name)
    if logs:
        found = _from_logs(logs, rig, mass_kg, from_kmh, to_kmh, columns, linear)
        source = ", ".join(Path(log).name for log, _ in logs)
    else:
        source = "coast-down.toml" if file is None else Path(file).name
        text = demo_coast_text() if file is None else read_text(file)
        dragged = (0.0, 0.0) if rig is None else rolled_of(rig).dragged
        found = from_times(parse_bench(text, name=source), dragged=dragged, linear=linear)
    if output is not None and name is not None:
        bike = next(row.bike for row in opened.setup if row.name == name)
        write_corrected(output, with_road_load(opened, bike, found, source=source), job)
    rows = _rows(found)
    document = {"format": FORMAT, "setup": name, **_document(found)}
    give(
        Answer(document, lambda: rows, lambda: _tables(rows, rig, found)),
        as_json=as_json,
        csv_file=csv,
    )


def _from_logs(
    logs: list[tuple[str, Direction]],
    rig: Rig | None,
    mass_kg: float | None,
    from_kmh: float | None,
    to_kmh: float,
    columns: str,
    linear: bool,
) -> Coast:
    if rig is None:
        refuse("--setup", "", "is missing: logs need mass, air and motor of what rolled")
    rolled = rolled_of(rig)
    if mass_kg is not None:
        if not 1 <= mass_kg <= 10_000:
            refuse("--mass-kg", f"{mass_kg:g}", "must be 1 to 10000")
        rolled = replace(rolled, mass=mass_kg)
    said = named_columns(columns)
    stretches: list[Stretch] = [
        coast_in(read_log(log, columns=said), way, rig, from_kmh=from_kmh, to_kmh=to_kmh)
        for log, way in logs
    ]
    return from_logs(stretches, rolled, linear=linear)


def _document(found: Coast) -> dict[str, object]:
    return {
        "road_load_n": found.values,
        "standard_uncertainty": found.uncertainty,
        "rolling_coefficient": found.rolling_coefficient,
        "rolling_coefficient_uncertainty": found.rolling_uncertainty,
        "drag_area_m2": found.drag_area,
        "drag_area_m2_uncertainty": found.area_uncertainty,
        "wind_m_s": found.wind,
        "grade_percent": found.grade / PERCENT,
        "readings": found.readings,
        "warnings": list(found.warnings),
    }


def _rows(found: Coast) -> list[dict[str, object]]:
    rows: list[tuple[str, float, float, str]] = [
        (
            "rolling resistance over weight",
            found.rolling_coefficient,
            found.rolling_uncertainty,
            "",
        ),
        ("drag area", found.drag_area, found.area_uncertainty, "m²"),
        *(
            (f"f{k}", float(found.values[k]), float(found.uncertainty[k]), UNITS[k])
            for k in range(3)
        ),
        ("wind along the road, against those who ride out", found.wind, np.nan, "m/s"),
        ("slope, up for those who ride out", found.grade / PERCENT, np.nan, "%"),
    ]
    keys = ("what", "value", "standard_uncertainty", "unit")
    return [dict(zip(keys, row, strict=True)) for row in rows]


def _tables(
    rows: list[dict[str, object]], rig: Rig | None, found: Coast
) -> Iterable[RenderableType]:
    yield table(
        COLUMNS,
        [
            [
                str(row["what"]),
                digits(float(str(row["value"]))),
                digits(float(str(row["standard_uncertainty"])), 2),
                str(row["unit"]),
            ]
            for row in rows
        ],
        title=f"Road load in standard air, from {found.readings} readings",
        words=2,
    )
    yield from (f"Look again: {warning}" for warning in found.warnings)
    if rig is None:
        yield "What a motor without a clutch drags along is in it; --setup takes it off."
    yield CAUTION
