"""The parts of a job: one frozen model a file, with the laws that need nothing but itself."""

from curves.parts.bike import Bike
from curves.parts.conditions import Conditions
from curves.parts.controller import Controller
from curves.parts.goals import Goals, Hill
from curves.parts.job import (
    Job,
    build_job,
    demo_job_text,
    dump_job,
    job_schema,
    load_job,
    load_profile,
    parse_job,
    profile_names,
)
from curves.parts.motor import Motor
from curves.parts.pack import Pack, cell_curve, cell_names
from curves.parts.rig import Rig
from curves.parts.setup import Setup
from curves.parts.tune import Tune

__all__ = [
    "Bike",
    "Conditions",
    "Controller",
    "Goals",
    "Hill",
    "Job",
    "Motor",
    "Pack",
    "Rig",
    "Setup",
    "Tune",
    "build_job",
    "cell_curve",
    "cell_names",
    "demo_job_text",
    "dump_job",
    "job_schema",
    "load_job",
    "load_profile",
    "parse_job",
    "profile_names",
]
