"""``weakening``: a setup over its field-weakening current, and the three answers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile, JobFile, number_list, opened_job
from curves.commands.output import Answer, give
from curves.commands.people import ESTIMATES, results
from curves.parts.rig import Rig
from curves.present.table import picked, records
from curves.present.weakening import weakening_columns
from curves.studies import weakening as study
from curves.studies.settings import WORTH_KMH
from curves.words.weakening import sentence

FORMAT = "rimforce-weakening-1"
READ = ("amps", "top_speed_kmh", "loss_w", "efficiency", "winding_c", "drive_off_emf_v",
        "drive_off_emf_cold_v")  # fmt: skip
SHOWN = ("amps", "top_speed_kmh", "loss_w", "efficiency_percent", "wh_per_km", "winding_c",
         "drive_off_emf_cold_v", "limited_by")  # fmt: skip
"""Columns for programs, and of the table for people."""


def weakening(
    job: JobFile = None,
    setup: Annotated[
        str | None, typer.Option(help="Name of the setup; the first if left out.")
    ] = None,
    amps: Annotated[
        str,
        typer.Option(metavar="START:STOP:STEP", help="Settings in the tune's basis, A."),
    ] = "0:80:2",
    worth_kmh: Annotated[
        float, typer.Option(min=0.0, help="What an extra ampere should buy, km/h.")
    ] = WORTH_KMH,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Top speed and its price over field-weakening current, and how much of it to set."""
    settings = number_list(amps, "--amps")
    opened = opened_job(job)
    rig = opened.rigs()[0] if setup is None else opened.rig(setup)
    sweep = study.weakening_sweep(rig, settings.tolist(), worth_kmh=worth_kmh)
    rows = records(picked(weakening_columns(sweep), *READ))
    answer = Answer(
        document={"format": FORMAT, "rows": rows} | answers(sweep),
        rows=lambda: rows,
        tables=lambda: _tables(sweep, _elsewhere(rig, settings.tolist(), worth_kmh)),
    )
    give(answer, as_json=as_json, csv_file=csv)


def answers(sweep: study.WeakeningSweep) -> dict[str, object]:
    """The three settings as the JSON gives them: null, with their ranges, where one is refused."""
    said = sweep.answers
    one: dict[str, object] = {
        "fastest_a": said.fastest[0],
        "diminishing_a": said.diminishing[0],
        "within_ratings_a": said.within[0],
    }
    if sweep.spread is None:
        return one
    ranges = {
        key: list(sweep.spread[name])
        for key, name in zip(one, ("fastest", "diminishing", "within"), strict=True)
    }
    return dict.fromkeys(one) | {"ranges": ranges}


def _elsewhere(rig: Rig, amps: list[float], worth_kmh: float) -> study.WeakeningSweep | None:
    other = study.at_other_charge(rig)
    if other is None:
        return None
    return study.weakening_sweep(other, amps, worth_kmh=worth_kmh, heat=False)


def _tables(
    sweep: study.WeakeningSweep, other: study.WeakeningSweep | None
) -> Iterable[RenderableType]:
    yield sentence(sweep, other=other)
    yield results(picked(weakening_columns(sweep), *SHOWN), title=sweep.name)
    yield ESTIMATES
