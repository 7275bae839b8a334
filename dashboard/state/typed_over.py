"""A value that is typed and typed back, or turned up and down again: then nothing has changed.

On the way to a value every key changes the job, and what was said of the old value goes with the
first of them. So the session keeps what the table was before, for as long as one field is edited.
No Dash here.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from curves.parts import Pack
from curves.parts.base import Table
from curves.parts.notes import revalued, values_of, well_formed
from curves.parts.problems import NOTES
from curves.parts.recount import CELLS, EXACT, other_cells
from dashboard.state.session import Session

NAMELESS = ("conditions", "goals")


def settled(before: Session, after: Session, where: Mapping[str, Any]) -> Session:
    """The session after an edit, as it was before the first of a row of them where it is back.

    Args:
        before: The session before this edit.
        after: The session after it.
        where: The field, as the page names it.
    """
    path, field = _path(before, where), _field(where)
    if after is before or path is None or field in NOTES:
        return after
    at, old = json.dumps(dict(where), sort_keys=True), _table(before, path)
    given = _given(old)
    known = before.over or {}
    kind = str(path[0])
    goes_on = known.get("at") == at and _same(known.get("table"), given, kind, field)
    first = (
        known
        if goes_on
        else {
            "at": at,
            "table": given,
            "value": _plain(old, field),
            "source": before.job.source,
        }
    )
    if _plain(_table(after, path), field) != first.get("value"):
        return replace(after, over=first)
    job = after.job.replace(path, first["table"]).replace("source", first.get("source"))
    return replace(after, job=job, over=None)


def _path(session: Session, where: Mapping[str, Any]) -> tuple[str | int, ...] | None:
    """Where the table of a field is in the job; None for the job itself."""
    part = where.get("part", "setup")
    if part == "job":
        return None
    if part == "setup":
        return part, session.index(int(where.get("slot", where.get("name"))))
    return (part,) if part in NAMELESS else (part, where["name"])


def _field(where: Mapping[str, Any]) -> str:
    """The field of the table itself, also where one of a table within is edited."""
    return str(where.get("key") or where.get("field")).replace("/", ".").partition(".")[0]


def _table(session: Session, path: tuple[str | int, ...]) -> Table:
    found: Any = getattr(session.job, str(path[0]))
    for key in path[1:]:
        found = found[key]
    table: Table = found
    return table


def _given(table: Table) -> dict[str, Any]:
    return table.model_dump(mode="json", exclude_unset=True, exclude_none=True)


def _plain(table: Table, field: str) -> Any:
    return table.model_dump(mode="json", include={field})[field]


def _same(table: Any, other: dict[str, Any], kind: str, field: str) -> bool:
    """Whether a table has come of another by edits of one field alone."""
    if not isinstance(table, dict) or not well_formed(table):
        return False
    if kind == "pack" and field in CELLS:
        return _same_cells(table, other)
    kept = {key: value for key, value in table.items() if key != field}
    made = revalued(kind, table, kept | {k: v for k, v in other.items() if k == field})
    return values_of(made) == values_of(other) and all(
        made.get(note) == other.get(note) for note in NOTES
    )


def _same_cells(table: dict[str, Any], other: dict[str, Any]) -> bool:
    """The same for cells of a pack, which other values follow."""
    try:
        is_of_cells = Pack.model_validate(table).from_cells
    except ValidationError:
        return False
    if not (is_of_cells and "cell" in other):
        return False
    made = other_cells(table, other["series"], other["parallel"])
    keys = made.keys() | other.keys()
    return all(_near(made.get(key), other.get(key)) for key in keys)


def _near(one: Any, other: Any) -> bool:
    """Equal but for the order in which factors were multiplied."""
    floats = isinstance(one, float) and isinstance(other, float)
    return math.isclose(one, other, rel_tol=EXACT) if floats else one == other
