"""The motor that typed readings give: asks ``curves.measured``, keeps what it answered."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import NamedTuple

from curves import JobError
from curves.errors import Problem
from curves.measured.bench import Derived, derive
from curves.measured.profile import Profile, motor_profile
from curves.measured.readings import Bench, right_rows
from dashboard.widgets.readings import Tree, asked_text, filled


class Found(NamedTuple):
    """What the readings give.

    Attributes:
        bench: The readings that are right.
        derived: Values with uncertainties.
        profile: The motor; None while something is missing.
        missing: What it takes to make one.
        wrong: Readings that are left out, and why.
    """

    bench: Bench
    derived: Derived
    profile: Profile | None
    missing: tuple[Problem, ...]
    wrong: tuple[Problem, ...]


def found_in(tree: Tree) -> Found:
    """What a page's tables give."""
    return _found(asked_text(filled(tree)))


@lru_cache(maxsize=32)
def _found(text: str) -> Found:
    bench, wrong = right_rows(json.loads(text), name="Readings")
    derived = derive(bench)
    try:
        return Found(bench, derived, motor_profile(bench, name="Readings"), (), wrong)
    except JobError as error:
        return Found(bench, derived, None, tuple(error.problems), wrong)
