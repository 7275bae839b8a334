"""Force, power and top speed of light electric bikes: the public names."""

from curves.balance import top_speed
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
