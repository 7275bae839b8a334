"""``runs``: splits of a timed run of every setup, by speed and by distance."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated

import numpy as np
import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile, JobFile, number_list, opened_job
from curves.commands.output import Answer, give, refuse
from curves.commands.people import BANDS, ESTIMATES, indented, spanned, table
from curves.motion import runs as timing
from curves.numerics.roots import Array
from curves.parts.labels import MAY_NOT_GET_THERE
from curves.parts.rig import Rig
from curves.setups.stack import Stack
from curves.studies.spread import Band, stack_band
from curves.units import FOOT, KILOMETRE, KMH, MILE
from curves.words.digits import within

FORMAT = "rimforce-runs-1"
TOGETHER = 8
"""Setups integrated at a time: each takes the steps that the most restless of them needs."""
LOWEST = "lowest"
USUAL = {"mph": (20.0, 30.0), "km/h": (), "ft": (60.0, 660.0, 1320.0), "m": ()}
"""What is timed where nothing is asked for."""


def runs(
    job: JobFile = None,
    to_mph: Annotated[
        str | None, typer.Option(metavar="20,30", help="Speeds to be timed to, mph.")
    ] = None,
    to_kmh: Annotated[
        str | None, typer.Option(metavar="25,45", help="Speeds to be timed to, km/h.")
    ] = None,
    distance_ft: Annotated[
        str | None, typer.Option(metavar="60,660", help="Distances to be timed, ft.")
    ] = None,
    distance_m: Annotated[
        str | None, typer.Option(metavar="100,400", help="Distances to be timed, m.")
    ] = None,
    rollout_ft: Annotated[
        float, typer.Option(help="Distance at which the clock starts, ft; 0 from standing.")
    ] = 0.0,
    shift_s: Annotated[
        float, typer.Option(help="Time without drive at each change of gear, s.")
    ] = 0.0,
    same_power_w: Annotated[
        str | None,
        typer.Option(
            metavar="W", help='Cap every setup at this power; "lowest" for their lowest ceiling.'
        ),
    ] = None,
    frozen: Annotated[
        bool, typer.Option("--frozen", help="Hold charge and temperatures as at the start.")
    ] = False,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Times to speeds and distances from rest, while charge and temperatures move."""
    asked = Asked(to_mph, to_kmh, distance_ft, distance_m)
    for option, value in (("--rollout-ft", rollout_ft), ("--shift-s", shift_s)):
        if not 0 <= value < np.inf:
            refuse(option, f"{value:g}", "must be 0 or more")
    rigs = _same_power(opened_job(job).rigs(), same_power_w)
    targets = timing.Targets(tuple(v * KMH for v in asked.kmh), asked.metres, rollout_ft * FOOT)
    parts = [
        timing.timed_runs(group, targets, shift_s=shift_s)
        if frozen
        else timing.coupled_runs(group, targets, shift_s=shift_s).runs
        for group in (rigs[k : k + TOGETHER] for k in range(0, len(rigs), TOGETHER))
    ]
    setups = [entry(part, asked, k) for part in parts for k in range(len(part.names))]
    notes = [note for part in parts for note in part.notes]
    answer = Answer(
        document={"format": FORMAT, "setups": setups},
        rows=lambda: [_row(setup, split) for setup in setups for split in splits_of(setup)],
        tables=lambda: _tables(rigs, setups, notes, asked, targets, shift_s),
    )
    give(answer, as_json=as_json, csv_file=csv)


class Asked:
    """The targets as the user gave them, in the order of the answer.

    Attributes:
        kmh: Speeds, km/h.
        metres: Distances, m.
        headings: What the table calls them, in their own unit.
    """

    def __init__(
        self,
        to_mph: str | None,
        to_kmh: str | None,
        distance_ft: str | None,
        distance_m: str | None,
    ) -> None:
        texts = {
            "mph": ("--to-mph", to_mph),
            "km/h": ("--to-kmh", to_kmh),
            "ft": ("--distance-ft", distance_ft),
            "m": ("--distance-m", distance_m),
        }
        none = all(text is None for _, text in texts.values())
        given = {
            unit: USUAL[unit] if none else _numbers(option, text)
            for unit, (option, text) in texts.items()
        }
        self.kmh = (*(x * MILE / KILOMETRE for x in given["mph"]), *given["km/h"])
        self.metres = (*(x * FOOT for x in given["ft"]), *given["m"])
        self.headings = tuple(f"{x:g} {unit}" for unit, xs in given.items() for x in xs)


def _numbers(option: str, text: str | None) -> tuple[float, ...]:
    if text is None:
        return ()
    values = number_list(text, option)
    if np.any(values <= 0):
        refuse(option, text, "must be above 0")
    return tuple(values.tolist())


def _same_power(rigs: Sequence[Rig], text: str | None) -> tuple[Rig, ...]:
    if text is None:
        return tuple(rigs)
    if text == LOWEST:
        return timing.same_pack_power(rigs)
    watts = number_list(text, "--same-power-w")
    if watts.size != 1 or not watts[0] > 0:
        refuse("--same-power-w", text, f'must be one number above 0, or "{LOWEST}"')
    return timing.same_pack_power(rigs, float(watts[0]))


def entry(found: timing.Runs, asked: Asked, k: int) -> dict[str, object]:
    """One setup's splits as the JSON gives them.

    Args:
        found: the runs of all setups.
        asked: the targets.
        k: which setup.
    """
    speeds = [
        {"kind": "speed", "target_kmh": kmh, "time_s": time, "distance_m": distance}
        for kmh, time, distance in zip(
            asked.kmh, found.speed_time[k], found.speed_distance[k], strict=True
        )
    ]
    distances = [
        {
            "kind": "distance",
            "target_m": metres,
            "time_s": time,
            "speed_kmh": speed / KMH,
            "trap_speed_kmh": trap / KMH,
        }
        for metres, time, speed, trap in zip(
            asked.metres,
            found.distance_time[k],
            found.distance_speed[k],
            found.trap_speed[k],
            strict=True,
        )
    ]
    return {"name": found.names[k], "splits": [*speeds, *distances]}


def splits_of(setup: dict[str, object]) -> list[dict[str, object]]:
    """The splits of one setup's entry."""
    splits = setup["splits"]
    assert isinstance(splits, list)
    return splits


def _row(setup: dict[str, object], split: dict[str, object]) -> dict[str, object]:
    columns = ("kind", "target_kmh", "target_m", "time_s", "distance_m", "speed_kmh")
    return {
        "name": setup["name"],
        **{column: split.get(column, np.nan) for column in (*columns, "trap_speed_kmh")},
    }


def _tables(
    rigs: Sequence[Rig],
    setups: Sequence[dict[str, object]],
    notes: Sequence[tuple[str, ...]],
    asked: Asked,
    targets: timing.Targets,
    shift_s: float,
) -> Iterable[RenderableType]:
    def times(several: Stack) -> Array:
        found = timing.timed_runs(several, targets, shift_s=shift_s)
        return np.concatenate((found.speed_time, found.distance_time, found.distance_speed), axis=1)

    band = stack_band(rigs, times)
    count = len(asked.kmh) + len(asked.metres)
    rows = []
    for setup, low, high in zip(setups, band.low, band.high, strict=True):
        splits = splits_of(setup)
        cells = [
            spanned(float(str(split["time_s"])), *ends, none=MAY_NOT_GET_THERE)
            for split, *ends in zip(splits, low[:count], high[:count], strict=True)
        ]
        at_line = np.array([split["speed_kmh"] for split in splits[len(asked.kmh) :]]) * KMH
        halves = Band(low[count:], high[count:]).half(at_line)
        lines = [within(*one) for one in zip(at_line / KMH, halves / KMH, strict=True)]
        rows.append([str(setup["name"]), *cells, *lines])
    heads = [f"km/h at {x}" for x in asked.headings[len(asked.kmh) :]]
    yield table(("setup", *(f"{x} s" for x in asked.headings), *heads), rows)
    for setup, sentences in zip(setups, notes, strict=True):
        for sentence in sentences:
            yield indented(f"{setup['name']}: {sentence}")
    if targets.roll_out > 0:
        yield indented(f"The clock starts after {targets.roll_out / FOOT:g} ft.")
    if band.wide:
        yield BANDS
    yield ESTIMATES
