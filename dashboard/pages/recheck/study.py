"""Five typed numbers and times of a coast-down: asks ``curves.measured``, keeps its answers."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields
from functools import lru_cache
from typing import Any

from curves import JobError
from curves.measured.coastdown import Coast, from_times
from curves.measured.coasts import rolled_of
from curves.measured.readings import right_rows
from curves.measured.recheck import Recheck, recheck
from curves.measured.typed import WORDS, Typed, asked_of
from curves.parts.base import SMALLEST
from dashboard.answers.setups import Comparison, Reading, known, remembered
from dashboard.state.session import View
from dashboard.widgets.choice import chosen, kept
from dashboard.widgets.progress import Task
from dashboard.widgets.readings import Tree, asked_text, filled

PAGE = "recheck"
ROAD = "road"
UNITS: Mapping[str, str] = {
    "top_speed_kmh": "km/h",
    "resting_v": "V",
    "loaded_v": "V",
    "amperes": "A",
    "motor_c": "°C",
    "motor_speed_kmh": "km/h",
    "wh_per_km": "Wh/km",
    "wh_speed_kmh": "km/h",
}
"""Of what is typed, as ``Typed`` has it."""
ENDS: Mapping[str, tuple[float, float]] = {
    **dict.fromkeys(UNITS, (SMALLEST, 10_000.0)),
    "motor_c": (-60.0, 500.0),
}
"""The least and the most that is taken of each: no reading of a light vehicle is beyond them."""


def typed(view: View) -> Typed:
    """The numbers as the view keeps them."""
    found = kept(view, PAGE).get("typed", {})
    values = found if isinstance(found, dict) else {}
    numbers = {
        field.name: float(values[field.name])
        for field in fields(Typed)
        if isinstance(values.get(field.name), int | float)
    }
    return Typed(**numbers)


ALONE = {
    "loaded_v": "the amperes it was read under",
    "motor_c": "the steady speed it was read at",
    "wh_per_km": "the steady speed it was read at",
}
"""What a number means nothing without, as the page says it."""


def problem(view: View) -> str:
    """Why there is nothing to check yet, empty where there is."""
    if typed(view) == Typed():
        return "Any one of the numbers is enough to begin."
    try:
        asked_of(typed(view))
    except JobError as error:
        name = error.problems[0].where
        if name not in WORDS:
            return "Type the number that goes with it."
        title = WORDS[name][0].capitalize()
        if "nothing without" in error.problems[0].message:
            return f"{title} means nothing without {ALONE[name]}."
        return f"{title} {error.problems[0].message}."
    return ""


def ridden(compared: Comparison, view: View) -> Reading | None:
    """The setup that the numbers are of."""
    return chosen(compared, view, PAGE)


def checked(compared: Comparison, view: View) -> Recheck | None:
    """What the numbers say of the setup; None where that is still to be worked out."""
    reading = ridden(compared, view)
    found = None if reading is None or problem(view) else known(_kind(view), [reading.rig])
    return found[0] if found else None


def worked_out(compared: Comparison, view: View) -> bool:
    """Whether nothing is left to be worked out."""
    idle = ridden(compared, view) is None or bool(problem(view))
    return idle or checked(compared, view) is not None


def work(compared: Comparison, view: View, _task: Task) -> None:
    """Work it out."""
    reading = ridden(compared, view)
    if reading is not None and not problem(view):
        remembered(_kind(view), [reading.rig], lambda rig: recheck(rig, typed(view)))


def road_tree(tree: Tree, reading: Reading) -> Tree:
    """Times of a coast-down with what the setup says of bike and air where nothing is typed."""
    rig = reading.rig
    own = {
        "mass_kg": rig.mass_kg,
        "air_c": rig.conditions.air_c,
        "altitude_m": rig.conditions.altitude_m,
    }
    said = tree.get("coast_bike", {})
    return {**filled(tree), "coast_bike": {**own, **(said if isinstance(said, dict) else {})}}


def coasted(tree: Tree, reading: Reading) -> Coast:
    """Road load from the times that are right.

    Raises:
        JobError: if there are too few.
    """
    text = asked_text(road_tree(tree, reading))
    return _coasted(text, rolled_of(reading.rig).dragged)


@lru_cache(maxsize=32)
def _coasted(text: str, dragged: tuple[float, float]) -> Coast:
    bench, _ = right_rows(json.loads(text), name="Times")
    return from_times(bench, dragged=dragged)


def _kind(view: View) -> str:
    return f"recheck {typed(view)}"


def kept_number(view: View, key: str) -> Any:
    """What stands in a field: a number, or what was typed instead."""
    found = kept(view, PAGE).get("typed", {})
    return found.get(key) if isinstance(found, dict) else None
