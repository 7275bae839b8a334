"""Force, power and top speed of light electric bikes: the public names."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from curves.errors import JobError, Problem
    from curves.parts import (
        Bike,
        Conditions,
        Controller,
        Goals,
        Job,
        Motor,
        Pack,
        Rig,
        Setup,
        Tune,
        dump_job,
        job_schema,
        load_job,
        load_profile,
        parse_job,
        profile_names,
    )
    from curves.steady.balance import top_speed

__version__ = "0.1.0"

__all__ = [
    "Bike",
    "Conditions",
    "Controller",
    "Goals",
    "Job",
    "JobError",
    "Motor",
    "Pack",
    "Problem",
    "Rig",
    "Setup",
    "Tune",
    "dump_job",
    "job_schema",
    "load_job",
    "load_profile",
    "parse_job",
    "profile_names",
    "top_speed",
]

_HOMES = {
    "top_speed": "curves.steady.balance",
    "JobError": "curves.errors",
    "Problem": "curves.errors",
}
"""Modules of names that ``curves.parts`` does not give."""


def __getattr__(name: str) -> Any:
    """A public name, imported when it is first asked for: the program must start at once."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(_HOMES.get(name, "curves.parts")), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
