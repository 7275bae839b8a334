"""What stands beside fields of the part form: the way back to a profile's value, and to no hill."""

from __future__ import annotations

from typing import Any

from dash import html

from curves import Motor
from curves.parts.goals import Hill
from curves.units import Units
from dashboard.base import ids
from dashboard.state.part_edits import USUAL_HILL, is_profiles, takes
from dashboard.widgets.fields import field_input, shown, unit_of, written


def hill_fields(hill: Hill | None, part: str, name: str, units: Units) -> list[Any]:
    """The fields of the goal's hill, and what brings one or takes it away."""
    inputs = [
        field_input(Hill, part, name, f"hill.{key}", getattr(hill, key), units)
        for key in USUAL_HILL
        if hill is not None
    ]
    told, do = ("Add a hill", "add") if hill is None else ("No hill", "none")
    button = html.Button(
        told, id=ids.form_act(f"hill/{do}"), type="button", className="tool worded"
    )
    return [*inputs, html.Div(button, className="apart")]


def take_back(motor: Motor, key: str, units: Units) -> Any:
    """The button that takes a value from the motor's profile, hidden while it is that value."""
    value = takes(motor, key)
    if value is None:
        return None
    unit = unit_of(Motor, key)
    said = f"{written(shown(value, unit, units))} {units.name(unit)}".rstrip()
    return html.Button(
        f"Take {said} from {motor.profile}",
        id=ids.form_act(f"take/{key}"),
        type="button",
        className="tool worded",
        hidden=is_profiles(motor, key),
    )
