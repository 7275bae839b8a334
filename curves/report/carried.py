"""The job inside a report, so that the file can be opened again where it was made."""

from __future__ import annotations

import json
import re

from curves.errors import JobError, Problem
from curves.parts.job import Job, parse_job
from curves.report.markup import Markup

LABEL = "rimforce-job"
MOST_CHARACTERS = 20_000_000
"""A report is well under a megabyte; with very many setups it may be some."""
OPENING = f'<script type="application/json" id="{LABEL}">'
_BLOCK = re.compile(re.escape(OPENING) + "(.*?)</script>", re.DOTALL)
HARMLESS = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028"})
"""In JSON these stand in texts only, where an escape means the same."""


def carry(job: Job) -> Markup:
    """The job as a block that shows nothing, runs nothing, and cannot end early."""
    text = json.dumps(job.tree(), ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return Markup(f"{OPENING}{text.translate(HARMLESS)}</script>")


def read_report(text: str, *, name: str = "report") -> Job:
    """The job that a report carries.

    Args:
        text: content of the HTML file.
        name: what to call it in messages.

    Raises:
        JobError: if it carries none, or one that cannot be read.
    """
    found = _BLOCK.findall(text[:MOST_CHARACTERS])
    if len(found) != 1:
        what = "carries no job" if not found else "carries more than one job"
        raise JobError([Problem(name, "", f"{what}: it is no report of rimforce")])
    return parse_job(found[0], name=name, kind="json")
