"""Pinned speeds, slopes and panels: what the user adds to plots and table."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from curves import Job
from dashboard.base import ids
from dashboard.base.words import not_taken, number, speed_factor
from dashboard.pages.which_pack.figure_scale import LEFT, PANELS, USUAL, Frame
from dashboard.state.session import PIN_GRADE, PIN_KMH, View

MOST = 4
PLACE = "panels"
"""Where the view keeps which panels are drawn."""
GRIP = 18
"""Width of what a line is dragged by, px; the style sheet has the same."""


def pins(job: Job, view: View) -> Any:
    """Two lists a user types numbers into, and the panels to choose from."""
    speeds = [_plain(kmh * speed_factor(view.speed)) for kmh in view.pinned_kmh]
    slopes = [_plain(grade) for grade in view.slopes(job)]
    return html.Div(
        [
            _list(ids.pin("speeds", view.speed), speeds, f"Pinned speeds, {view.speed}", "add one"),
            _list(ids.pin("slopes", view.speed), slopes, "Slopes drawn, %", "add one"),
            dmc.MultiSelect(
                value=list(panels_chosen(view)),
                data=[{"value": p.key, "label": p.title} for p in PANELS if p.key != "force"],
                id=ids.pin("panels", view.speed),
                label="Panels below the force",
                size="xs",
                className="panels-chosen",
            ),
        ],
        className="pins",
        id=ids.PINS,
    )


def panels_chosen(view: View) -> tuple[str, ...]:
    """Keys of the panels that are drawn below the force."""
    kept = view.extra.get(PLACE)
    keys = kept.get("panels") if isinstance(kept, dict) else None
    known = [p.key for p in PANELS if p.key != "force"]
    return tuple(k for k in known if k in (USUAL if not isinstance(keys, list) else keys))


def handles(view: View, f: Frame) -> list[Any]:
    """What the pinned lines are moved by, each above its line: dragged, or by the arrow keys.

    Args:
        view: The pinned speeds.
        f: Where the plots' axis begins and ends.
    """
    edges = {"left": f"{LEFT - GRIP / 2}px", "right": f"{f.right - GRIP / 2}px"}
    return [
        html.Label(
            [
                html.Span(f"Pinned speed {place + 1}, {f.unit}", className="hidden"),
                dcc.Input(
                    type="range",
                    id=ids.handle(place, 1 / speed_factor(f.unit)),
                    value=float(_plain(kmh * speed_factor(f.unit))),
                    min=0,
                    max=f.last,
                    step=1,
                ),
            ],
            style=edges,
        )
        for place, kmh in enumerate(view.pinned_kmh)
    ]


def stand(made: list[Any], values: list[Any], ends: list[Any]) -> bool:
    """Whether handles on the page, which give their numbers as texts, are as they are to be.

    Args:
        made: Handles as ``handles`` makes them.
        values: Where those on the page stand.
        ends: How far those can be moved.
    """
    wanted = [(label.children[1].value, label.children[1].max) for label in made]
    return wanted == [(float(v), float(end)) for v, end in zip(values, ends, strict=True)]


def pinned_by(kind: str, typed: list[str], view: View, job: Job) -> View:
    """The view with what was typed; what is no number is left out.

    A number that stands as it was shown stays what it is: what is shown is rounded.
    """
    if kind == "panels":
        if tuple(typed or []) == panels_chosen(view):
            return view
        kept = view.extra.get(PLACE, {})
        return replace(view, extra={**view.extra, PLACE: {**kept, "panels": typed or []}})
    factor = 1.0 if kind == "slopes" else speed_factor(view.speed)
    known = view.slopes(job) if kind == "slopes" else view.pinned_kmh
    shown = {_plain(value * factor): value for value in known}
    numbers = [
        shown.get(text, value)
        for text in typed or []
        if (value := _pinned(kind, text, view.speed)) is not None
    ]
    field = "grades" if kind == "slopes" else "pinned_kmh"
    return View.parse({**view.data(), field: numbers[:MOST]})


def wrong(kind: str, typed: list[str] | None, unit: str) -> str:
    """What is said beside a list of what in it is none, empty for nothing.

    Args:
        kind: ``speeds``, ``slopes`` or ``panels``.
        typed: What stands in it.
        unit: Of speed.
    """
    least, most = PIN_GRADE
    right = f"a slope in %, from {number(least)} to {most:.0f}"
    if kind == "speeds":
        right = f"a speed, from 0 to {math.ceil(PIN_KMH[1] * speed_factor(unit))} {unit}"
    return not_taken(_none(kind, typed, unit), right)


def stand_as(lists: list[Any], shown: list[list[str]]) -> bool:
    """Whether the lists on the page are as they are to be, but for what is none in them.

    Args:
        lists: As ``pins`` makes them.
        shown: What stands in those on the page.
    """
    left = [
        [text for text in texts if text not in _none(made.id["kind"], texts, made.id["unit"])]
        for made, texts in zip(lists, shown, strict=True)
    ]
    return [made.value for made in lists] == left


def _none(kind: str, typed: list[str] | None, unit: str) -> list[str]:
    """Texts that are no pin: no number, or out of bounds."""
    texts = [] if kind == "panels" else typed or []
    return [text for text in texts if _pinned(kind, text, unit) is None]


def _pinned(kind: str, text: str, unit: str) -> float | None:
    """A typed speed, km/h, or slope, %; None for none."""
    value, (least, most) = _number(text), PIN_GRADE if kind == "slopes" else PIN_KMH
    if value is not None and kind == "speeds":
        value /= speed_factor(unit)
    return value if value is not None and least <= value <= most else None


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
