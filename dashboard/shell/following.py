"""A form whose pack was given other cells: under the pack's name, with what followed."""

from __future__ import annotations

from typing import Any

from curves.parts import Pack
from curves.parts.recount import CELLS, FOLLOWS
from curves.units import Units
from dashboard.state.part_edits import named_by_cells
from dashboard.state.session import Session
from dashboard.widgets.fields import shown, unit_of

FOLLOWING = {name.removeprefix("pack.") for name in FOLLOWS if name.startswith("pack.")}


def followed(
    session: Session,
    stands: list[tuple[dict[str, Any], Any]],
    typed_in: list[dict[str, Any]],
    units: Units,
) -> tuple[Session, dict[str, Any] | None]:
    """The session with the pack's name put right, and the form that is to be made anew.

    Args:
        session: With what was typed.
        stands: Every field of the form and what stands in it.
        typed_in: The fields that were typed in; all of them when a form has just opened.
        units: What they show.

    Returns:
        The form is None where it shows what there is.
    """
    keys = {where["key"] for where in typed_in if where["part"] == "pack"}
    if not keys.intersection(CELLS) or keys.intersection(FOLLOWING):
        return session, None
    old = typed_in[0]["name"]
    if old not in session.job.pack or not session.job.pack[old].from_cells:
        return session, None
    session, name = named_by_cells(session, old)
    pack = session.job.pack[name]
    stale = any(
        (None if value == "" else value) != shown(getattr(pack, key), unit_of(Pack, key), units)
        for where, value in stands
        if (key := where["key"]) in FOLLOWING
    )
    return session, ({"part": "pack", "name": name} if stale or name != old else None)
