"""The short form that makes a first job: every field has an answer that will do for a start."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import Any

import dash_mantine_components as dmc
from dash import html

from curves.cautions.law import CLASSES
from curves.intake import (
    BIKES,
    CHEMISTRIES,
    POSTURES,
    PRICE_PER_KWH,
    TYRES,
    Asked,
    wh_needed,
)
from curves.parts.base import LARGEST
from curves.parts.job import profile_names
from curves.units import Units
from dashboard.base import ids
from dashboard.base.words import number, with_unit
from dashboard.widgets.attributes import attributes
from dashboard.widgets.fields import shown

UNITS = {
    "rider_kg": "kg",
    "load_kg": "kg",
    "hill_percent": "%",
    "hill_m": "m",
    "hill_kmh": "km/h",
    "range_km": "km",
    "pack_a": "A",
    "budget": "",
    "price_per_kwh": "",
}
SAID = {
    "motor": "Motor to start from",
    "bike": "Bike",
    "posture": "How the rider sits",
    "tyre": "Tyres",
    "rider_kg": "Rider",
    "load_kg": "Load",
    "hill_percent": "Steepest hill",
    "hill_m": "Length of the hill",
    "hill_kmh": "Speed wanted on it",
    "range_km": "Distance wanted on a charge",
    "chemistry": "Cells",
    "volts": "Volts on the pack’s label",
    "pack_a": "Pack current of the controller",
    "budget": "Budget for the pack, in your money",
    "price_per_kwh": "Price of a pack’s kWh, in the same money",
    "road_class": "Class of vehicle",
}
MAY_BE_EMPTY = {"budget": "none: no budget"}
_SPREAD = round(100 * PRICE_PER_KWH.tolerance)
NO_CLASS = "none chosen"


def intake() -> Any:
    """The window of the form; it is filled when it is opened."""
    return dmc.Modal(
        html.Div(id=ids.INTAKE_BODY),
        id=ids.INTAKE,
        title="A first job from what you know today",
        size="lg",
        closeButtonProps={"aria-label": "Close"},
    )


def form(units: Units) -> list[Any]:
    """The fields, with their usual answers.

    Args:
        units: What is read and typed.
    """
    usual = Asked()
    inputs = [_input(field.name, getattr(usual, field.name), units) for field in fields(Asked)]
    return [
        html.P(
            "Leave what you do not know as it stands: typical values, each with its source and "
            "how sure it is, to be replaced under Parts. The motor is an invented one until you "
            "put in your own readings.",
            className="lead",
        ),
        html.Div(inputs, className="fields intake-fields"),
        html.P(buys(usual, units), id=ids.INTAKE_BUYS, **attributes(aria_live="polite")),
        html.P(id=ids.INTAKE_SAID, role="alert", className="wrong"),
        dmc.Button("Make the first job", id=ids.INTAKE_MAKE),
        html.P("The job on the page is one undo away.", className="soft"),
    ]


def buys(told: Asked, units: Units) -> str:
    """What the budget buys against what the distance needs.

    Args:
        told: What the form was told.
        units: What is read.
    """
    needed = wh_needed(told)
    way = f"{with_unit(told.range_km, 'km', units)} need some {number(needed)} Wh"
    if told.price_per_kwh <= 0:
        return f"{way}."
    cost = needed / 1000 * told.price_per_kwh
    if told.budget is None:
        return f"{way}: a pack for about {number(cost)}, give or take {_SPREAD} %."
    bought = told.budget / told.price_per_kwh * 1000
    verdict = "enough" if bought >= needed else "too little"
    return f"{number(told.budget)} buy about {number(bought)} Wh; {way}: {verdict}, as an estimate."


def _choices(field: str) -> list[dict[str, str]] | None:
    known: dict[str, Iterable[Any]] = {
        "motor": profile_names(),
        "bike": BIKES,
        "posture": POSTURES,
        "tyre": TYRES,
        "chemistry": CHEMISTRIES,
        "volts": dict.fromkeys(v for kind in CHEMISTRIES.values() for v in kind.counts),
    }
    if field == "road_class":
        named = [{"value": key, "label": kind.title} for key, kind in CLASSES.items()]
        return [{"value": "", "label": NO_CLASS}, *named]
    found = known.get(field)
    return None if found is None else [{"value": str(x), "label": _label(field, x)} for x in found]


def _label(field: str, choice: Any) -> str:
    if field != "volts":
        return str(choice)
    counts = [f"{_or(kind.counts[choice])} {name}" for name, kind in CHEMISTRIES.items()]
    return f"{choice} V: {', '.join(counts)} cells"


def _or(counts: Iterable[int]) -> str:
    return " or ".join(map(str, counts))


def _input(field: str, usual: Any, units: Units) -> Any:
    name, choices, unit = ids.intake(field), _choices(field), UNITS.get(field, "")
    label = f"{SAID[field]}, {units.name(unit)}" if unit else SAID[field]
    if choices is not None:
        value = "" if usual is None else str(usual)
        return dmc.Select(label=label, data=choices, value=value, id=name, allowDeselect=False)
    empty = MAY_BE_EMPTY.get(field, "")
    value = shown(usual, unit, units)
    return dmc.NumberInput(
        label=label, value=value, placeholder=empty, min=0, id=name, clampBehavior="none"
    )


def wrong(answers: Mapping[str, Any], units: Units) -> dict[str, str]:
    """What is wrong with the numbers of the form, by field; and what is usual there.

    Args:
        answers: By field, as the inputs give them.
        units: What they were typed in.
    """
    found = {}
    for field in UNITS.keys() & answers.keys():
        value = answers[field]
        if value in (None, "") and field in MAY_BE_EMPTY:
            continue
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not 0 <= value <= LARGEST:
            usual = shown(getattr(Asked(), field), UNITS[field], units)
            told = "" if usual is None else f"; {usual:g} {units.name(UNITS[field])}".rstrip()
            found[field] = f"must be a number, 0 or more{told and told + ' is usual'}"
    return found


def asked(answers: Mapping[str, Any], units: Units) -> Asked:
    """What the form was told.

    Args:
        answers: By field, as the inputs give them.
        units: What they were typed in.

    Raises:
        ValueError: if a number is none, or below 0, or a choice is none of those offered.
    """
    for field, said in wrong(answers, units).items():
        raise ValueError(f"{SAID[field]} {said}.")
    given: dict[str, Any] = {}
    for field, value in answers.items():
        if field not in SAID:
            continue
        if field in UNITS and value not in (None, ""):
            given[field] = _number(field, value, units)
        elif field not in UNITS and value:
            if str(value) not in [choice["value"] for choice in _choices(field) or ()]:
                raise ValueError(f"{SAID[field]} must be one of those in its list.")
            given[field] = int(value) if field == "volts" else value
    return Asked(**given)


def _number(field: str, number: float, units: Units) -> float:
    usual = getattr(Asked(), field)
    unit = UNITS[field]
    return usual if number == shown(usual, unit, units) else float(units.typed(number, unit))
