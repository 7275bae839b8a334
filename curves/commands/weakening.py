"""``weakening``: a setup over its field-weakening current, and the three answers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile, JobFile, number_list, opened_job
from curves.commands.output import Answer, give
from curves.commands.people import ESTIMATES, digits, listed, table
from curves.parts.rig import Rig
from curves.studies import weakening as study
from curves.studies.settings import WORTH_KMH
from curves.units import KMH
from curves.words.weakening import sentence

FORMAT = "rimforce-weakening-1"
COLUMNS = (
    "top km/h",
    "loss W",
    "efficiency %",
    "Wh/km",
    "winding °C",
    "drive-off V, cold magnets",
    "limited by",
)


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
    rows = [
        {
            "amps": setting,
            "top_speed_kmh": sweep.top.speed[k] / KMH,
            "loss_w": sweep.running.loss[k],
            "efficiency": sweep.running.efficiency[k],
            "winding_c": sweep.winding_c[k],
            "drive_off_emf_v": sweep.top.drive_off_emf_v[k],
            "drive_off_emf_cold_v": sweep.top.drive_off_emf_cold_v[k],
        }
        for k, setting in enumerate(sweep.amps)
    ]
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
    rows = [
        [
            f"{setting:g}",
            digits(sweep.top.speed[k] / KMH),
            digits(sweep.running.loss[k]),
            digits(sweep.running.efficiency[k] * 100),
            digits(sweep.running.wh_per_km[k]),
            digits(sweep.winding_c[k]),
            digits(sweep.top.drive_off_emf_cold_v[k]),
            listed(sweep.top.limited_by[k]),
        ]
        for k, setting in enumerate(sweep.amps)
    ]
    yield table((f"A {sweep.basis}", *COLUMNS), rows, title=sweep.name, words=2)
    yield ESTIMATES
