"""Arguments and options that several commands share, and how their values are read."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, TypeAlias

import numpy as np
import typer

from curves.commands.output import refuse, warn
from curves.numerics.roots import Array
from curves.parts.job import Job, load_job
from curves.parts.plausible import doubts
from curves.units import SWAPS, Units

JobFile: TypeAlias = Annotated[
    str | None,
    typer.Argument(metavar="JOB", help="Job file, TOML or JSON; the demo job if left out."),
]
AsJson: TypeAlias = Annotated[bool, typer.Option("--json", help="Only JSON on standard output.")]
CsvFile: TypeAlias = Annotated[
    Path | None, typer.Option("--csv", metavar="FILE", help="Write the numbers to a CSV file.")
]

MOST_DOUBTS = 10
"""Lines about values that no light vehicle has, before they are counted."""


def opened_job(job: str | None) -> Job:
    """The job of a command, and on standard error a line for what no light vehicle has.

    Args:
        job: its file, None for the demo job.

    Raises:
        JobError: if it cannot be read or something in it is not allowed.
    """
    read = load_job(job)
    said = doubts(read.rigs(), read.goals)
    for line in said[:MOST_DOUBTS]:
        warn(line)
    if len(said) > MOST_DOUBTS:
        warn(f"{len(said) - MOST_DOUBTS} more such values: rimforce check names them all.")
    return read


MOST_POINTS = 100_000
LARGEST = 1e6


def number_list(text: str, option: str, *, least: float | None = 0.0) -> Array:
    """Numbers written as ``start:stop:step`` (stop included), one number, or several by commas.

    A range gives start + k step for k = 0 … floor((stop - start) / step + 1e-9).

    Args:
        text: what the user wrote.
        option: the option, for messages.
        least: the lowest value allowed, None for no bound.

    Raises:
        JobError: if it is no such list, holds a value that is not allowed, or is far too long.
    """
    parts = [_range(item, text, option) for item in text.split(",")]
    values = np.concatenate(parts)
    if values.size > MOST_POINTS:
        refuse(option, text, f"gives {values.size} values: at most {MOST_POINTS} are taken")
    if least is not None and np.any(values < least):
        refuse(option, text, f"must be {least:g} or more")
    if np.any(np.abs(values) > LARGEST):
        refuse(option, text, f"must be at most {LARGEST:g}")
    return values


def _range(item: str, text: str, option: str) -> Array:
    numbers = [_number(part, text, option) for part in item.split(":")]
    if len(numbers) == 1:
        return np.array(numbers)
    if len(numbers) != 3:
        refuse(option, text, "must be start:stop:step such as 0:80:1, a number, or 20,25,30")
    start, stop, step = numbers
    if step <= 0:
        refuse(option, text, "the step, the third number, must be above 0")
    if stop < start:
        refuse(option, text, "stop, the second number, must not be below start, the first")
    steps = (stop - start) / step + 1e-9
    if steps >= MOST_POINTS:
        refuse(option, text, f"gives more than {MOST_POINTS} values: take a larger step")
    return np.asarray(start + step * np.arange(math.floor(steps) + 1))


def _number(part: str, text: str, option: str) -> float:
    try:
        value = float(part)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        refuse(option, text, "must be start:stop:step such as 0:80:1, a number, or 20,25,30")
    return value


def units_of(text: str, option: str, *more: str) -> Units:
    """The units a person reads, written as ``mph,lb,F,lbf-ft``.

    Args:
        text: what the user wrote, empty for none.
        option: the option, for messages.
        more: names that are chosen besides; those that nothing is swapped for are left out.

    Raises:
        JobError: if one of them is no unit that may be chosen.
    """
    known = {_typed(name): name for name in SWAPS}
    asked = [word.strip() for word in text.split(",") if word.strip()]
    for word in asked:
        if _typed(word) not in known:
            refuse(option, text, f"must be any of {', '.join(known)}, with commas between")
    return Units.of([*(known[_typed(word)] for word in asked), *more])


def _typed(name: str) -> str:
    """A unit's name with the keys that every keyboard has."""
    return name.replace("°", "").replace("·", "-")
