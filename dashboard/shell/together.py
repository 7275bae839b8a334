"""Fields of a part that are right only together: taken as they stand in the form once they are."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from curves import JobError
from curves.parts.notes import revalued
from curves.units import Units
from dashboard.shell.part_form import MODELS
from dashboard.state.session import Session
from dashboard.widgets.fields import typed

GROUPS = {
    "controller": (("foldback_start_v", "foldback_end_v"),),
    "bike": (
        ("circumference_m", "tyre"),
        ("final_drive_ratio", "gear_ratios"),
        ("rolling_coefficient", "drag_area_m2", "road_load_n"),
    ),
}
"""Fields that need each other, or stand one for another: none can change alone."""


def group_of(where: dict[str, Any]) -> tuple[str, ...]:
    """Keys of the fields that go with one of the form; none for most."""
    groups = GROUPS.get(where.get("part", ""), ())
    return next((keys for keys in groups if where["key"] in keys), ())


def together(
    session: Session,
    where: dict[str, Any],
    stands: Iterable[tuple[dict[str, Any], Any]],
    units: Units,
) -> Session:
    """The session with a field and those that go with it as they stand in the form.

    Args:
        session: What is edited; it is given back where they are not right together either.
        where: The field.
        stands: Every field of the form and what stands in it.
        units: What they show.
    """
    keys, part, name = group_of(where), where.get("part", ""), where.get("name", "")
    if not keys:
        return session
    try:
        now, before = session.table(part, name), session.job.tree()[part][name]
        after = dict(before)
        for field, value in stands:
            key = field.get("key")
            if (field.get("part"), field.get("name")) == (part, name) and key in keys:
                after[key] = typed(MODELS[part], key, value, getattr(now, key), units)
        after = {key: value for key, value in after.items() if value is not None}
        same = after == before
        return session if same else session.edit((part, name), revalued(part, before, after))
    except (JobError, KeyError, ValueError):
        return session
