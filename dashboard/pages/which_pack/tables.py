"""The numbers behind the plots, for reading and for spreadsheets. No Dash here."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from curves.numerics.counts import evenly
from curves.present.over_speed import FORMAT, entry
from curves.present.serial import csv_line, json_text
from curves.present.table import Table
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed
from curves.steady.envelope import batch_envelope
from curves.studies.levers import telling
from curves.units import KMH, Units
from dashboard.answers.setups import Reading, gained_of
from dashboard.answers.study_options import MOST_ROWS
from dashboard.base.words import NONE, exact, number, signed, speed_factor
from dashboard.pages.which_pack.figure_scale import Panel, lines_of

OVER_SPEED = "Over road speed"
MOST_SPEEDS = 1000
"""Speeds in the JSON that is carried away."""


def by_speed(readings: Sequence[Reading], panel: Panel, unit: str) -> Table:
    """A quantity at round speeds, a column a setup.

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
    return Table(head, rows, f"{panel.title}, {panel.unit}")


def _at(reading: Reading, panel: Panel, kmh: float, digits: int) -> str:
    if kmh > reading.curve.end:
        return NONE
    values = panel.read(reading.curve)
    return number(float(np.interp(kmh, reading.curve.speed, values)), digits)


def over_speed(readings: Sequence[Reading], units: Units) -> Table:
    """Every quantity of every setup over speed, in the units a person reads."""
    lines = lines_of(readings)
    head = ["setup", f"speed {units.name('km/h')}", *(_head(p, units) for p in lines), "limited by"]
    rows = []
    for r in readings:
        columns = [units.shown(panel.read(r.curve), panel.unit) for panel in lines]
        for k, kmh in enumerate(r.curve.speed):
            values = [exact(c[k]) if math.isfinite(c[k]) else "" for c in columns]
            at = exact(units.shown(kmh, "km/h"))
            rows.append([r.name, at, *values, "; ".join(r.curve.limits[k])])
    return Table(head, rows, OVER_SPEED)


def as_csv(readings: Sequence[Reading], units: Units) -> str:
    """What ``over_speed`` gives, for a spreadsheet."""
    head, rows, _ = over_speed(readings, units)
    return "".join(map(csv_line, (head, *rows)))


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


def gains(readings: Sequence[Reading], units: Units) -> Table:
    """What a little of each thing buys every setup.

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
    told = f"Top speed gained, {units.name('km/h')}"
    return Table(["Setup", *(x.change for x in levers)], rows, told)
