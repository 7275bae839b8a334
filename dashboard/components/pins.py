"""Pinned speeds and slopes: what the user adds to plots and table."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import html

from curves import Job
from dashboard import ids
from dashboard.state import View
from dashboard.text import speed_factor

MOST = 4


def pins(job: Job, view: View) -> Any:
    """Two lists a user types numbers into."""
    speeds = [_plain(kmh * speed_factor(view.speed)) for kmh in view.pinned_kmh]
    slopes = [_plain(grade) for grade in view.slopes(job)]
    return html.Div(
        [
            _list(ids.pin("speeds", view.speed), speeds, f"Pinned speeds, {view.speed}", "add one"),
            _list(ids.pin("slopes", view.speed), slopes, "Slopes drawn, %", "add one"),
        ],
        className="pins",
        id=ids.PINS,
    )


def pinned_by(kind: str, typed: list[str], view: View, job: Job) -> View:
    """The view with what was typed; what is no number is left out.

    A number that stands as it was shown stays what it is: what is shown is rounded.
    """
    factor = 1.0 if kind == "slopes" else speed_factor(view.speed)
    known = view.slopes(job) if kind == "slopes" else view.pinned_kmh
    shown = {_plain(value * factor): value for value in known}
    numbers = [
        shown[text] if text in shown else value / factor
        for text in typed or []
        if (value := _number(text)) is not None
    ]
    field = "grades" if kind == "slopes" else "pinned_kmh"
    return View.parse({**view.data(), field: numbers[:MOST]})


def _list(name: dict[str, Any], values: list[str], label: str, hint: str) -> Any:
    return dmc.TagsInput(
        value=values,
        id=name,
        label=label,
        placeholder=hint if len(values) < MOST else "",
        maxTags=MOST,
        size="xs",
        acceptValueOnBlur=True,
    )


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", ".").replace("−", "-").rstrip("% "))
    except ValueError:
        return None


def _plain(value: float) -> str:
    return f"{round(value, 1):g}"
