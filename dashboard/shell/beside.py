"""What is said beside a field: what is wrong with what was typed, and what holds instead."""

from __future__ import annotations

from typing import Any, NamedTuple

from curves import JobError, Motor
from curves.parts.goals import Hill
from curves.parts.labels import label_of
from curves.parts.plausible import doubt
from curves.units import PERCENT, Units
from dashboard.base import ids
from dashboard.shell.part_form import MODELS
from dashboard.state.part_edits import is_profiles, takes
from dashboard.state.session import Session
from dashboard.widgets.fields import shown, titled, unit_of, written


def why(error: JobError, where: dict[str, Any], units: Units) -> str:
    """What is wrong with a field; its numbers are the job file's."""
    part, key = where.get("part", "setup"), where.get("key") or where["field"]
    model = Hill if key.startswith("hill/") else MODELS[part]
    said = error.problems[0].message
    place = error.problems[0].where
    # What is refused may be another field, which goes with this one.
    others = [one for one in model.model_fields if one != key and place.endswith(f"] {one}")]
    if others:
        said = f"{label_of(others[0]).lower()} {said}"
    if key.startswith("tolerance/"):
        return said
    unit = unit_of(model, key.removeprefix("hill/"))
    return said if units.name(unit) == unit else f"{said} (in {unit})"


class Field(NamedTuple):
    """What a field of the page is of: a table of the job, its kind and the field's name."""

    table: Any
    part: str
    key: str


def field_of(session: Session, where: dict[str, Any]) -> Field | None:
    """What is edited there; None where there is no such part any more."""
    part, name = where.get("part", "setup"), where.get("name", str(where.get("slot", "")))
    key = (where.get("key") or where["field"]).replace("/", ".")
    try:
        table = session.table(part, name)
    except KeyError:
        return None
    if key.startswith("hill."):
        table, key = table.hill, key.removeprefix("hill.")
    return None if table is None else Field(table, part, key)


def stays(session: Session, where: dict[str, Any], units: Units) -> str:
    """That the value before holds on, and which it is."""
    known = field_of(session, where)
    if known is None:
        return "what was before stays in force"
    part, _, field = known.key.rpartition(".")
    if part:
        share = known.table.tolerance.get(field)
        return (
            "nothing said, as before"
            if share is None
            else f"{share / PERCENT:.6g} % stays in force"
        )
    value, unit = getattr(known.table, known.key), unit_of(type(known.table), known.key)
    if where.get("field") == "state_of_charge":
        value, unit = round(value / PERCENT, 6), "%"
    if value is None:
        return "none stays in force"
    now = shown(value, unit, units)
    said = f"{now:.9g}" if isinstance(now, float) else written(now)
    return f"{said} {units.name(unit)}".rstrip() + " stays in force"


def doubted(session: Session, where: dict[str, Any], units: Units) -> str:
    """What is said of a field's value that no light vehicle has."""
    known = field_of(session, where)
    if known is None or "." in known.key:
        return ""
    return doubt(type(known.table), known.key, getattr(known.table, known.key), units)


def moved(session: Session, where: dict[str, Any], units: Units) -> list[tuple[Any, Any]]:
    """What changes about a field that was typed in: ids of components and their properties.

    Its label tells where the value comes from; a button takes that of the motor's profile.
    """
    known = field_of(session, where)
    if known is None or "." in known.key or "slot" in where or isinstance(known.table, Hill):
        return []
    made: list[tuple[Any, Any]] = [(where, {"label": titled(*known[:2], known.key, units)})]
    if isinstance(known.table, Motor) and takes(known.table, known.key) is not None:
        hidden = is_profiles(known.table, known.key)
        made.append((ids.form_act(f"take/{known.key}"), {"hidden": hidden}))
    return made
