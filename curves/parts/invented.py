"""What of a job is made up, as far as it says so."""

from __future__ import annotations

from curves.parts.base import Table
from curves.parts.job import Job
from curves.parts.problems import NOTES, PARTS


def made_up(table: Table, fields: tuple[str, ...] | None = None) -> list[str]:
    """Fields of a table whose value is invented.

    Args:
        table: the table.
        fields: those asked about; None for all that are given.
    """
    asked = table.model_fields_set - {*NOTES, "profile"} if fields is None else fields
    return [
        field
        for field in asked
        if getattr(table, field) is not None and table.source_kind(field) == "invented"
    ]


def invented(job: Job) -> list[tuple[str, str, int]]:
    """The parts of its setups that have invented values: kind, name, and how many of them."""
    used = dict.fromkeys((kind, getattr(s, kind)) for kind in PARTS for s in job.setup)
    found = [
        (kind, name, len(made_up(getattr(job, kind)[name])))
        for kind, name in used
        if name is not None
    ]
    return [entry for entry in found if entry[2]]
