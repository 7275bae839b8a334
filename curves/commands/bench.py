"""``bench``: a motor profile from bench readings."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile
from curves.commands.output import Answer, give, warn, write_file
from curves.commands.people import digits, table
from curves.measured.coastdown import Coast, from_times
from curves.measured.estimate import Estimate
from curves.measured.logs import demo_bench_text, read_text
from curves.measured.profile import UNITS, Profile, motor_profile
from curves.measured.readings import Bench, parse_bench
from curves.parts.base import Table

FORMAT = "rimforce-bench-result-1"
COLUMNS = ("value", "found", "± standard", "readings", "how")
STATED = ("Kv as others state it", "rpm per volt")
TORQUE = ("torque constant", "N·m/A")
CAUTION = (
    "A spinning wheel, a drill and a charged pack can injure: clamp the bike, keep hands and "
    "clothes clear, fuse the supply. Values are estimates from these readings."
)


def bench(
    file: Annotated[
        str | None,
        typer.Argument(metavar="[FILE]", help="Bench readings, TOML; the demo's if left out."),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="PROFILE", help="Write the motor profile here."),
    ] = None,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """A motor profile from bench readings, each value with its uncertainty and its source."""
    name = "hub-bench.toml" if file is None else Path(file).name
    readings = parse_bench(demo_bench_text() if file is None else read_text(file), name=name)
    found = motor_profile(readings, name=name)
    coast = from_times(readings) if readings.coast_down else None
    if output is not None:
        write_file(output, found.text, option="-o")
        warn(f"{output}: motor profile")
    rows = [_row(field, value) for field, value in _values(found, coast).items()]
    document = {
        "format": FORMAT,
        "title": readings.title,
        "values": rows,
        "kv_rpm_per_volt_as_stated": found.kv_stated_as,
        "torque_nm_per_ampere": found.torque_per_ampere,
        "warnings": list(found.warnings),
        "profile": found.text,
    }
    answer = Answer(document, lambda: rows, lambda: _tables(readings, found, rows, output))
    give(answer, as_json=as_json, csv_file=csv)


def _values(found: Profile, coast: Coast | None) -> dict[str, Estimate]:
    values = dict(found.derived.values)
    if coast is not None:
        values |= coast.estimates()
    return values


def _row(field: str, found: Estimate) -> dict[str, object]:
    return {
        "field": field,
        "value": found.value,
        "standard_uncertainty": found.uncertainty,
        "readings": found.readings,
        "how": found.how,
    }


def _tables(
    readings: Bench, found: Profile, rows: list[dict[str, object]], output: Path | None
) -> Iterable[RenderableType]:
    yield table(
        COLUMNS,
        [
            [
                f"{row['field']} {UNITS.get(str(row['field']), '')}".strip(),
                digits(float(str(row["value"])), 4),
                digits(float(str(row["standard_uncertainty"])), 2),
                str(row["readings"] or "stated"),
                str(row["how"]),
            ]
            for row in rows
        ],
        title=readings.title,
        words=2,
    )
    yield table(STATED, [[word, digits(kv)] for word, kv in found.kv_stated_as.items()])
    yield table(TORQUE, [[f"per {word}", digits(k)] for word, k in found.torque_per_ampere.items()])
    yield from (f"Look again: {warning}" for warning in found.warnings)
    yield _unmeasured(found)
    yield CAUTION
    if output is None:
        yield "-o PROFILE writes the profile, which a job names as the profile of its motor."


def _unmeasured(found: Profile) -> str:
    notes = set(Table.model_fields) | {"profile"}
    assumed = [
        field
        for field in type(found.motor).model_fields
        if field not in notes
        and field not in found.derived.values
        and getattr(found.motor, field) is None
    ]
    return f"Not given, so left out of heat and limits: {', '.join(assumed)}."
