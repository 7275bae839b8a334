"""What a drive that goes off at speed does, in one sentence beside the top speeds."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from dash import html

from dashboard.answers.curve import Curve
from dashboard.answers.setups import Reading
from dashboard.base.words import listed, number, speed, unbroken

ALIKE = 0.5
"""Speeds that differ by less, km/h, are told as one."""


def drive_off(readings: Sequence[Reading], unit: str) -> Any:
    """The caution of some setups; None where none of them can brake itself or be harmed.

    Args:
        readings: The setups shown.
        unit: ``km/h`` or ``mph``.
    """
    brakes = _from(readings, lambda c: c.brakes, unit)
    harms = _from(readings, lambda c: c.harms, unit)
    if not (brakes or harms):
        return None
    said = [f"the motor brakes the bike by itself {brakes}"] if brakes else []
    said += [f"its back-EMF passes the controller’s rated volts {harms}"] if harms else []
    faster = [r.name for r in readings if r.curve.top > min(_known(r.curve))]
    names = [f"“{name}”" for name in faster[:2]]
    names += [f"{number(len(faster) - 2)} more"] if len(faster) > 2 else []
    goes = f" {listed(names)} can go that fast." if faster else ""
    level = "warning" if faster else "notice"
    return html.P(
        [
            html.Span(level, className=f"severity {level}"),
            unbroken(f" If the drive cuts out at speed, {'; '.join(said)}.{goes}"),
        ],
        className="drive-off",
    )


def _known(curve: Curve) -> list[float]:
    return [math.inf, *(x for x in (curve.brakes, curve.harms) if math.isfinite(x))]


def _from(readings: Sequence[Reading], read: Callable[[Curve], float], unit: str) -> str:
    """Where it begins: with the first setup, and whether later with the others."""
    known = sorted(
        ((read(r.curve), r.name) for r in readings if math.isfinite(read(r.curve))),
        key=lambda x: x[0],
    )
    if not known:
        return ""
    first, name = known[0]
    begins = f"above {speed(first, unit, 0)} {unit}"
    if known[-1][0] - first < ALIKE:
        return begins
    return f"{begins} with “{name}”, later with the others"
