"""The job inside a report, so that the file can be opened again where it was made."""

from __future__ import annotations

import json

from curves.errors import JobError, Problem
from curves.parts.job import Job, parse_job
from curves.parts.reading import CARRIED
from curves.report.markup import Markup

HARMLESS = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"})
"""In JSON these stand in texts only, where an escape means the same."""


def carry(job: Job) -> Markup:
    """The job as a block that shows nothing, runs nothing, and cannot end early."""
    text = json.dumps(job.tree(), ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return Markup(f"{CARRIED}{text.translate(HARMLESS)}</script>")


def read_report(text: str, *, name: str = "report") -> Job:
    """The job that a report carries; ``parse_job`` and ``load_job`` read reports too.

    Args:
        text: content of the HTML file.
        name: what to call it in messages.

    Raises:
        JobError: if it carries none, or one that cannot be read.
    """
    if not text.lstrip().startswith("<"):
        raise JobError([Problem(name, "", "is no report: a report is an HTML file")])
    return parse_job(text, name=name)
