"""Timed runs: splits by speed and by distance."""

from curves.motion.runs.coupled import CoupledRuns, coupled_runs
from curves.motion.runs.equal_power import power_ceiling, same_pack_power
from curves.motion.runs.quadrature import timed_runs
from curves.motion.runs.repeated import Repeated, repeated_runs
from curves.motion.runs.results import RUN_WORDS, Runs, Targets, Trace
from curves.motion.runs.trace import held_back, trace

__all__ = [
    "RUN_WORDS",
    "CoupledRuns",
    "Repeated",
    "Runs",
    "Targets",
    "Trace",
    "coupled_runs",
    "held_back",
    "power_ceiling",
    "repeated_runs",
    "same_pack_power",
    "timed_runs",
    "trace",
]
