"""``recheck``: five numbers read without a logger against what a job predicts of them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile, JobFile, opened_job
from curves.commands.output import Answer, give
from curves.commands.people import digits, table
from curves.measured.recheck import Check, Recheck
from curves.measured.recheck import recheck as rechecked
from curves.measured.typed import Typed
from curves.words.recheck import sentences

FORMAT = "rimforce-recheck-1"
CHECKS = ("reading", "unit", "read", "predicted", "from", "to", "verdict")
SUSPECTS = ("suspect", "unit", "in the job", "would fit", "explains", "uncertainties off")
CAUTION = (
    "Bands are 5 to 95 % from the job's tolerances. Suspects are to first order and each alone: "
    "measure the first before changing it."
)


def recheck(
    job: JobFile = None,
    setup: Annotated[
        str | None, typer.Option(help="Setup that was ridden; the first if left out.")
    ] = None,
    top_speed_kmh: Annotated[
        float | None, typer.Option(help="Top speed, the road and wind as the job has them.")
    ] = None,
    resting_v: Annotated[float | None, typer.Option(help="Pack volts at rest.")] = None,
    loaded_v: Annotated[
        float | None, typer.Option(help="Pack volts under --amperes, at the controller.")
    ] = None,
    amperes: Annotated[float | None, typer.Option(help="Current of --loaded-v.")] = None,
    motor_c: Annotated[
        float | None, typer.Option(help="Winding temperature once it no longer rises.")
    ] = None,
    motor_speed_kmh: Annotated[
        float | None, typer.Option(help="Steady speed at which --motor-c was read.")
    ] = None,
    wh_per_km: Annotated[float | None, typer.Option(help="Energy from the pack.")] = None,
    wh_speed_kmh: Annotated[
        float | None, typer.Option(help="Steady speed at which --wh-per-km was read.")
    ] = None,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Agree or not, number by number, and what is likeliest wrong in the job if not."""
    opened = opened_job(job)
    rig = opened.rig(opened.setup[0].name if setup is None else setup)
    found = rechecked(
        rig,
        Typed(
            top_speed_kmh=top_speed_kmh,
            resting_v=resting_v,
            loaded_v=loaded_v,
            amperes=amperes,
            motor_c=motor_c,
            motor_speed_kmh=motor_speed_kmh,
            wh_per_km=wh_per_km,
            wh_speed_kmh=wh_speed_kmh,
        ),
    )
    checks = [_check(one) for one in found.checks]
    document = {
        "format": FORMAT,
        "setup": rig.name,
        "checks": checks,
        "suspects": [
            {
                "field": one.field,
                "meaning": one.title,
                "unit": one.unit,
                "value": one.value,
                "needed": one.needed,
                "standard_uncertainties": one.sigmas,
                "explains": one.explains,
            }
            for one in found.suspects
        ],
        "sentences": sentences(found),
    }
    answer = Answer(document, lambda: checks, lambda: _tables(rig.name, found))
    give(answer, as_json=as_json, csv_file=csv)


def _check(one: Check) -> dict[str, object]:
    return {
        "quantity": one.quantity,
        "measured": one.measured,
        "predicted": one.predicted,
        "low": one.low,
        "high": one.high,
        "agrees": one.agrees,
    }


def _tables(setup: str, found: Recheck) -> Iterable[RenderableType]:
    yield table(
        CHECKS,
        [
            [
                one.title,
                one.unit,
                f"{one.measured:g}",
                *(digits(x) for x in (one.predicted, one.low, one.high)),
                one.verdict,
            ]
            for one in found.checks
        ],
        title=setup,
        words=2,
    )
    if found.suspects:
        yield table(
            SUSPECTS,
            [
                [
                    one.title,
                    one.unit,
                    digits(one.value),
                    digits(one.needed),
                    f"{one.explains:z.0%}",
                    f"{one.sigmas:+z.1f}",
                ]
                for one in found.suspects
            ],
            title="Likeliest first",
        )
    yield from sentences(found)
    yield CAUTION
