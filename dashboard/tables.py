"""The numbers behind the plots, for reading and for spreadsheets. No Dash here."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence

import numpy as np

from dashboard.figures.panels import LINES, Panel
from dashboard.results import Reading
from dashboard.text import NONE, number, signed, speed_factor

FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for a formula at the start of a text."""


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
    for at in np.arange(0.0, last + 1e-9, 5.0):
        kmh = float(at) / speed_factor(unit)
        digits = 1 if panel.unit == "A" else 0
        rows.append([number(float(at)), *(_at(r, panel, kmh, digits) for r in readings)])
    return head, rows


def _at(reading: Reading, panel: Panel, kmh: float, digits: int) -> str:
    if kmh > reading.curve.end:
        return NONE
    values = panel.read(reading.curve)
    return number(float(np.interp(kmh, reading.curve.speed, values)), digits)


def as_csv(readings: Sequence[Reading]) -> str:
    """Every quantity of every setup over speed, in km/h and SI."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ["setup", "speed km/h", *(f"{p.title.lower()} {p.unit}" for p in LINES), "limited by"]
    )
    for r in readings:
        name = f"'{r.name}" if r.name.startswith(FORMULA) else r.name
        columns = [panel.read(r.curve) for panel in LINES]
        for k, kmh in enumerate(r.curve.speed):
            values = [f"{c[k]:.6g}" if math.isfinite(c[k]) else "" for c in columns]
            writer.writerow([name, f"{kmh:.6g}", *values, "; ".join(r.curve.limits[k])])
    return out.getvalue()


GAINS = (
    ("kmh_per_pack_v", 1.0, "1 V"),
    ("kmh_per_series_cell", 1.0, "1 cell in series"),
    ("kmh_per_pack_a", 1.0, "1 A from the pack"),
    ("kmh_per_phase_a", 10.0, "10 A in the phases"),
    ("kmh_per_weakening_a", 5.0, "5 A weakening"),
    ("kmh_per_w", 100.0, "100 W"),
    ("kmh_per_m2", -0.05, "0.05 m² less drag"),
    ("kmh_per_kg", -10.0, "10 kg less"),
)


def gains(readings: Sequence[Reading], unit: str) -> tuple[list[str], list[list[str]]]:
    """What a little of each thing buys every setup: headings and rows.

    Args:
        readings: The setups.
        unit: ``km/h`` or ``mph``.
    """
    rows = []
    for r in readings:
        bought = [r.curve.gain[key] * step * speed_factor(unit) for key, step, _ in GAINS]
        rows.append([r.name, *(signed(x, 1) if abs(x) >= 0.05 else NONE for x in bought)])
    return ["Setup", *(said for _, _, said in GAINS)], rows
