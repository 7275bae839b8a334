"""``curves``: the envelope of every setup over road speed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Annotated

import numpy as np
import typer
from rich.console import RenderableType

from curves.cautions.stuck import whys_stuck
from curves.commands import curves_extras
from curves.commands.curves_extras import Extra
from curves.commands.options import AsJson, CsvFile, JobFile, number_list, opened_job
from curves.commands.output import Answer, give, in_blocks
from curves.commands.people import (
    BANDS,
    ESTIMATES,
    MOST_TOLD,
    all_told,
    listed,
    spanned,
    table,
    within,
)
from curves.commands.top_speed import columns as top_columns
from curves.numerics.roots import Array
from curves.parts.labels import MAY_NOT_START
from curves.parts.rig import Rig
from curves.present.over_speed import FORMAT, entry
from curves.setups.stack import stack
from curves.steady.balance import TopSpeed, batch_top_speed
from curves.steady.envelope import Envelope, batch_envelope, words
from curves.studies.spread import Band, spread, top_speed_band
from curves.units import KMH

MOST_LINES = 24
"""Lines of a table for people; a program asks for JSON or CSV."""
HEADINGS = (
    "km/h",
    "rim force N",
    "road load N",
    "rim W",
    "pack W",
    "pack V",
    "pack A",
    "phase A peak",
    "limited by",
)


def curves(
    job: JobFile = None,
    speeds_kmh: Annotated[
        str,
        typer.Option(metavar="START:STOP:STEP", help="Road speeds, stop included; or 20,25,30."),
    ] = "0:80:1",
    braking: Annotated[
        bool, typer.Option("--braking", help="The strongest electrical braking as well.")
    ] = False,
    gains: Annotated[
        bool,
        typer.Option("--gains", help="What one more volt, cell, ampere or watt buys as well."),
    ] = False,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """Force, power and currents of every setup over road speed, and what limits them."""
    speeds = number_list(speeds_kmh, "--speeds-kmh")
    rigs = opened_job(job).rigs()
    extras = tuple(kind for kind, wanted in (("braking", braking), ("gains", gains)) if wanted)
    answer = Answer(
        document={"format": FORMAT, "setups": lambda: _entries(rigs, speeds, extras)},
        rows=lambda: (row for x in _entries(rigs, speeds, extras) for row in _rows(x)),
        tables=lambda: (
            *_tables(*_asked(rigs[:MOST_TOLD], speeds, extras)),
            *all_told(len(rigs)),
        ),
    )
    give(answer, as_json=as_json, csv_file=csv)


def _asked(
    rigs: Sequence[Rig], speeds: Array, extras: Sequence[str]
) -> tuple[Sequence[Rig], Envelope, TopSpeed, Array, list[Extra]]:
    batch, names = stack(rigs).batch(), tuple(rig.name for rig in rigs)
    curve, top = batch_envelope(batch, names, speeds * KMH), batch_top_speed(batch, names)
    found: list[Extra] = []
    if "braking" in extras:
        found.append(curves_extras.braking(batch, names, speeds))
    if "gains" in extras:
        found.append(curves_extras.gains(batch, curve, speeds))
    return rigs, curve, top, speeds, found


def _entries(
    rigs: Sequence[Rig], speeds: Array, extras: Sequence[str]
) -> Iterator[dict[str, object]]:
    for some in in_blocks(rigs, speeds.size):
        _, curve, top, _, found = _asked(some, speeds, extras)
        for k in range(len(some)):
            yield entry(curve, top, speeds, k) | {extra.key: extra.entries[k] for extra in found}


def _rows(setup: dict[str, object]) -> Iterator[dict[str, object]]:
    """A line a speed: the columns of the JSON that have a value a speed."""
    columns = {name: list(x) for name, x in setup.items() if isinstance(x, np.ndarray | list)}
    del columns["top_speed_limited_by"]
    for key, extra in setup.items():
        if isinstance(extra, Mapping):
            columns |= {f"{key}_{name}": list(x) for name, x in extra.items()}
    for k in range(len(columns["speed_kmh"])):
        yield {"setup": setup["name"], **{name: column[k] for name, column in columns.items()}}


def _tables(
    rigs: Sequence[Rig],
    curve: Envelope,
    top: TopSpeed,
    speeds: Array,
    extras: Sequence[Extra],
) -> Iterable[RenderableType]:
    every = max(1, math.ceil(speeds.size / MOST_LINES))
    shown = speeds[::every]
    few = _columns(curve)[:, ::every]
    why = whys_stuck(rigs, top.speed)
    sure_top = spread(rigs, lambda b: top_columns(batch_top_speed(b, ("",) * b.size)))
    band = top_speed_band(rigs)
    sure = spread(rigs, lambda b: _columns(batch_envelope(b, ("",) * b.size, shown * KMH)))
    for k, name in enumerate(curve.names):
        rows = [
            [
                f"{speed:g}",
                *map(within, few[k, j], sure[k, j]),
                listed(words(curve.limited[k, j * every])),
            ]
            for j, speed in enumerate(shown)
        ]
        yield table(HEADINGS, rows, title=name, words=2)
        yield why[k] or _summary(top, sure_top, band, k)
        yield from (extra.table(k, every) for extra in extras)
        yield ""
    if np.any(sure_top > 0):
        yield BANDS
    if every > 1:
        yield f"Every {every}th speed is shown; --csv and --json give all {speeds.size}."
    yield ESTIMATES


def _columns(curve: Envelope) -> Array:
    """The numbers of the tables, shape (setups, speeds, columns)."""
    return np.stack(
        (
            curve.rim_force,
            curve.road_force,
            curve.rim_power,
            curve.pack_power,
            curve.pack_voltage,
            curve.pack_current,
            curve.phase_current,
        ),
        axis=-1,
    )


def _summary(top: TopSpeed, sure: Array, band: Band, k: int) -> str:
    speed, base, none = top_columns(top)[k, :3]
    rest = f"Base speed {within(base, sure[k, 1])}, no load {within(none, sure[k, 2])} km/h."
    limits = listed(top.limited_by[k])
    low, high = band.low[k] / KMH, band.high[k] / KMH
    said = spanned(speed, low, high, "km/h", none=MAY_NOT_START)
    return f"Top speed {said}, limited by {limits}. {rest}"
