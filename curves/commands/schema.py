"""``schema``: the JSON Schema of a job file."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from curves.commands.output import say
from curves.parts.job import job_schema


def schema(
    as_json: Annotated[  # noqa: ARG001 - every command takes it; this one prints nothing else
        bool, typer.Option("--json", help="Accepted as everywhere: it is JSON already.")
    ] = False,
) -> None:
    """Print the JSON Schema of a job file."""
    say(json.dumps(job_schema(), indent=2) + "\n")
