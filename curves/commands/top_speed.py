"""``top-speed``: how fast each setup is, what limits it there, and what more of each would buy."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
from rich.console import RenderableType
from rich.text import Text

from curves.cautions.stuck import whys_stuck
from curves.commands.options import AsJson, CsvFile, JobFile, opened_job
from curves.commands.output import Answer, give, in_blocks
from curves.commands.people import (
    BANDS,
    ESTIMATES,
    MOST_TOLD,
    NONE,
    all_told,
    digits,
    indented,
    listed,
    spanned,
    table,
    within,
)
from curves.numerics.roots import Array
from curves.parts.labels import MAY_NOT_START
from curves.parts.rig import Rig
from curves.point.drive_off import TOLERANCE
from curves.steady import balance
from curves.steady.drive_off import DriveOff, drive_off
from curves.steady.starting import starts
from curves.studies.levers import tried
from curves.studies.sensitivity import Sensitivity, sensitivity
from curves.studies.spread import spread, top_speed_band
from curves.units import KMH
from curves.words.levers import buys
from curves.words.sensitivity import measure_next

FORMAT = "rimforce-top-speed-1"
COLUMNS = (
    "setup",
    "top km/h",
    "base km/h",
    "no load km/h",
    "EMF, drive off, cold magnets, V",
    "pack V",
    "limited by",
)
OFF_COLUMNS = (
    "if the drive stops",
    "brakes from km/h",
    "passes rating from km/h",
    "at top speed V",
    "N·m brake at most",
    "A charge at most",
    "",
)
FREE = "only until the rotor has slowed: it freewheels"


def top_speed(job: JobFile = None, as_json: AsJson = False, csv: CsvFile = None) -> None:
    """Top speed, what limits it there, and what more of each input would buy."""
    rigs = opened_job(job).rigs()
    answer = Answer(
        document={"format": FORMAT, "setups": lambda: _entries(rigs)},
        rows=lambda: (_row(setup) for setup in _entries(rigs)),
        tables=lambda: (*_tables(*_asked(rigs[:MOST_TOLD])), *all_told(len(rigs))),
    )
    give(answer, as_json=as_json, csv_file=csv)


def _asked(
    rigs: Sequence[Rig],
) -> tuple[Sequence[Rig], balance.TopSpeed, DriveOff, Sequence[Sensitivity]]:
    top = balance.top_speed(rigs)
    return rigs, top, drive_off(rigs, top), sensitivity(rigs)


def _entries(rigs: Sequence[Rig]) -> Iterator[dict[str, object]]:
    for some in in_blocks(rigs):
        _, top, off, unsure = _asked(some)
        for k in range(len(some)):
            yield entry(top, k) | {"drive_off": _off(off, k)} | _next(unsure[k])


def entry(top: balance.TopSpeed, k: int) -> dict[str, object]:
    """One setup's top speed as the JSON gives it.

    Args:
        top: the top speeds of all setups.
        k: which setup.
    """
    return {
        "name": top.names[k],
        "top_speed_kmh": top.speed[k] / KMH,
        "limited_by": list(top.limited_by[k]),
        "gain_per_unit": {unit: gain[k] for unit, gain in top.gain.items()},
        "base_speed_kmh": top.base_speed[k] / KMH,
        "no_load_speed_kmh": top.no_load_speed[k] / KMH,
        "drive_off_emf_v": top.drive_off_emf_v[k],
        "drive_off_emf_cold_v": top.drive_off_emf_cold_v[k],
        "pack_voltage_v": top.pack_voltage[k],
    }


def _off(off: DriveOff, k: int) -> dict[str, object]:
    """What a drive that goes off does to one setup."""
    return {
        "magnet_c": off.magnet_c[k],
        "brakes_above_kmh": off.starts[k] / KMH,
        "exceeds_rating_above_kmh": off.exceeds_rating[k] / KMH,
        "emf_v": off.emf_v[k],
        "margin_v": off.margin_v[k],
        "rating_margin_v": off.rating_margin_v[k],
        "brake_torque_nm": off.brake_torque[k],
        "brake_force_n": off.brake_force[k],
        "charging_current_a": off.charging_current[k],
        "pack_voltage_v": off.pack_voltage[k],
        "winding_w": off.heat[k],
        "tolerance": TOLERANCE,
        "lasts": bool(off.lasts[k]),
    }


def _next(found: Sensitivity) -> dict[str, object]:
    """The input to measure next, and how far one standard uncertainty of each moves the answer."""
    moved = [{"input": x.input, "share": x.share, "kmh": x.kmh} for x in found.influences]
    return {"measure_next": found.measure_next, "influences": moved}


def _row(setup: Mapping[str, object]) -> dict[str, object]:
    """A line of the setup's values, those within tables of their own spread out."""
    row: dict[str, object] = {}
    for key, value in setup.items():
        if isinstance(value, Mapping):
            before = "drive_off_" if key == "drive_off" else ""
            # The volts with the drive off stand there already, for the magnets as they are.
            row.update({before + n: x for n, x in value.items() if before + n not in row})
        elif key != "influences":
            row[key] = value
    return row


def _tables(
    rigs: Sequence[Rig], top: balance.TopSpeed, off: DriveOff, unsure: Sequence[Sensitivity]
) -> Iterable[RenderableType]:
    able = starts(top.speed).tolist()
    spreads = spread(
        rigs, lambda batch: columns(balance.batch_top_speed(batch, ("",) * batch.size))
    )
    band = top_speed_band(rigs)
    rows = [
        [
            name,
            *_numbers(shown, sure, (band.low[k] / KMH, band.high[k] / KMH), starts=able[k]),
            listed(top.limited_by[k]),
        ]
        for k, (name, shown, sure) in enumerate(zip(top.names, columns(top), spreads, strict=True))
    ]
    yield table(COLUMNS, rows, words=2)
    why = whys_stuck(rigs, top.speed)
    for k, (name, gained) in enumerate(zip(top.names, tried(rigs), strict=True)):
        if not able[k]:
            yield Text(name, style="bold")
            yield indented(why[k])
            continue
        yield Text(name, style="bold")
        yield indented(buys(gained, top.limited_by[k]))
        if said := measure_next(unsure[k]):
            yield indented(said)
    if any(able):
        # What cannot start has no speed at which a drive could stop.
        lines = [_off_line(off, k) for k in range(len(off.names)) if able[k]]
        yield table(OFF_COLUMNS, lines, words=2)
    if np.any(spreads > 0):
        yield BANDS
    yield ESTIMATES


def _numbers(shown: Array, sure: Array, band: tuple[float, float], *, starts: bool) -> list[str]:
    """The numbers of a row; one that cannot start has none."""
    if not starts:
        return ["cannot start", *[NONE] * (len(shown) - 1)]
    rest = (within(value, by) for value, by in zip(shown[1:], sure[1:], strict=True))
    return [spanned(shown[0], *band, none=MAY_NOT_START), *rest]


def _off_line(off: DriveOff, k: int) -> list[str]:
    """A line of the table of what a drive that goes off does."""
    return [
        off.names[k],
        digits(off.starts[k] / KMH, 2),
        digits(off.exceeds_rating[k] / KMH, 2),
        digits(off.emf_v[k], 2),
        digits(off.brake_torque[k], 2),
        digits(off.charging_current[k], 2),
        "" if off.lasts[k] else FREE,
    ]


def columns(top: balance.TopSpeed) -> Array:
    """The numbers of the table, shape (setups, columns)."""
    speeds = (top.speed / KMH, top.base_speed / KMH, top.no_load_speed / KMH)
    return np.column_stack((*speeds, top.drive_off_emf_cold_v, top.pack_voltage))
