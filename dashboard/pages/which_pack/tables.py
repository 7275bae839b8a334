"""The numbers behind the plots, for reading and for spreadsheets. No Dash here."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence

import numpy as np

from curves.numerics.counts import evenly
from curves.plaintext import no_formula
from curves.present.over_speed import FORMAT, entry
from curves.present.serial import json_text
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed
from curves.steady.envelope import batch_envelope
from curves.studies.levers import telling
from curves.units import KMH, Units
from dashboard.answers.setups import Reading, gained_of
from dashboard.answers.study_options import MOST_ROWS
from dashboard.base.words import MINUS, NONE, number, signed, speed_factor
from dashboard.pages.which_pack.figure_scale import Panel, lines_of

MOST_SPEEDS = 1000
"""Speeds in the JSON that is carried away."""


def by_speed(
    readings: Sequence[Reading], panel: Panel, unit: str
) -> tuple[list[str], list[list[str]]]:
    """A quantity at round speeds, a column a setup: headings and rows.

    Args:
        readings: The setups.
        panel: The quantity.
        unit: ``km/h`` or ``mph``.
    """
    head = [f"Speed, {unit}", *(r.name for r in readings)]
    last = max((r.curve.end for r in readings), default=0.0) * speed_factor(unit)
    rows = []
    for at in evenly(0.0, last, 5.0, MOST_ROWS).tolist():
        kmh = at / speed_factor(unit)
        digits = 1 if panel.unit == "A" else 0
        rows.append([number(at), *(_at(r, panel, kmh, digits) for r in readings)])
    return head, rows


def _at(reading: Reading, panel: Panel, kmh: float, digits: int) -> str:
    if kmh > reading.curve.end:
        return NONE
    values = panel.read(reading.curve)
    return number(float(np.interp(kmh, reading.curve.speed, values)), digits)


def over_speed(readings: Sequence[Reading], units: Units) -> tuple[list[str], list[list[str]]]:
    """Every quantity of every setup over speed, in the units a person reads: headings and rows."""
    lines = lines_of(readings)
    head = ["setup", f"speed {units.name('km/h')}", *(_head(p, units) for p in lines), "limited by"]
    rows = []
    for r in readings:
        columns = [units.shown(panel.read(r.curve), panel.unit) for panel in lines]
        for k, kmh in enumerate(r.curve.speed):
            values = [f"{c[k]:.6g}" if math.isfinite(c[k]) else "" for c in columns]
            at = f"{units.shown(kmh, 'km/h'):.6g}"
            rows.append([r.name, at, *values, "; ".join(r.curve.limits[k])])
    return head, rows


def as_csv(readings: Sequence[Reading], units: Units) -> str:
    """What ``over_speed`` gives, for a spreadsheet."""
    head, rows = over_speed(readings, units)
    return csv_text([head, *rows])


def csv_text(rows: Sequence[Sequence[str]]) -> str:
    """Rows of texts for a spreadsheet: numbers without ornament, no text that is a formula.

    Args:
        rows: What stands first in one may be a name that looks like a number.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for row in rows:
        writer.writerow([*map(_safe, row[:1]), *map(_for_file, row[1:])])
    return out.getvalue()


def _for_file(text: str) -> str:
    number = plain_number(text)
    return _safe(text) if number is None else number


def _safe(text: str) -> str:
    safe = no_formula(text)
    return safe if safe != text else (plain_number(text) or text)


def plain_number(text: str) -> str | None:
    """A number as people read it, as programs do; None for any other text."""
    plain = text.replace(MINUS, "-").replace(",", "").replace("%", "").strip().removeprefix("+")
    return plain if re.fullmatch(r"-?[0-9]+(\.[0-9]+)?(e[+-]?[0-9]+)?", plain) else None


def as_json(readings: Sequence[Reading]) -> str:
    """Every quantity of every setup at whole km/h, as ``rimforce curves --json`` gives it."""
    if not readings:
        return json_text({"format": FORMAT, "setups": []})
    batch, names = stack([r.rig for r in readings]).batch(), tuple(r.name for r in readings)
    speeds = evenly(0.0, math.ceil(max(r.curve.end for r in readings)), 1.0, MOST_SPEEDS)
    found, top = batch_envelope(batch, names, speeds * KMH), batch_top_speed(batch, names)
    setups = [entry(found, top, speeds, k) for k in range(len(names))]
    return json_text({"format": FORMAT, "setups": setups})


def _head(panel: Panel, units: Units) -> str:
    return f"{panel.title.lower()} {units.name(panel.unit)}"


def gains(readings: Sequence[Reading], units: Units) -> tuple[list[str], list[list[str]]]:
    """What a little of each thing buys every setup: headings and rows.

    Args:
        readings: The setups.
        units: What is read.
    """
    gained = gained_of([r.rig for r in readings], units)
    levers = telling(gained, units)
    rows = []
    for r, own in zip(readings, gained, strict=True):
        bought = [units.change(own[x.name], "km/h") for x in levers]
        rows.append([r.name, *(signed(x, 1) if abs(x) >= 0.05 else NONE for x in bought)])
    return ["Setup", *(x.change for x in levers)], rows
