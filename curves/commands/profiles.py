"""``profiles``: motor profiles checked, and what each holds in short."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile
from curves.commands.output import Answer, give
from curves.commands.people import NONE, table
from curves.parts.base import Table
from curves.parts.job import load_profile, profile_names
from curves.parts.motor import Motor

FORMAT = "rimforce-profiles-1"
COLUMNS = ("profile", "Kv rpm/V", "resistance Ω", "pole pairs", "gear ratio", "without a source")


def profiles(
    files: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[FILE]...", help="Profiles to check; the packaged if left out."),
    ] = None,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Check motor profiles against the schema, and for values that name no source."""
    if files:
        found = {str(f): load_profile(f.name, f.parent) for f in files}
    else:
        found = {name: load_profile(name) for name in profile_names()}
    rows = [_row(name, motor) for name, motor in found.items()]
    give(
        Answer({"format": FORMAT, "profiles": rows}, lambda: rows, lambda: _tables(rows)),
        as_json=as_json,
        csv_file=csv,
    )


def _row(name: str, motor: Motor) -> dict[str, object]:
    values = sorted(motor.model_fields_set - {*Table.model_fields, "profile"})
    return {
        "name": name,
        "kv_rpm_per_v": motor.kv_rpm_per_v,
        "resistance_ohm": motor.resistance_ohm,
        "pole_pairs": motor.pole_pairs,
        "gear_ratio": motor.gear_ratio,
        "without_source": [field for field in values if motor.source_kind(field) is None],
    }


def _tables(rows: list[dict[str, object]]) -> Iterable[RenderableType]:
    shown = []
    for row in rows:
        name, *numbers, lacking = row.values()
        said = ", ".join(lacking) if isinstance(lacking, list) and lacking else NONE
        shown.append([str(name), *(f"{x:g}" for x in numbers), said])
    yield table(COLUMNS, shown, words=1)
