"""Timed runs: splits by speed and by distance."""

from curves.runs.equal_power import power_ceiling, same_pack_power
from curves.runs.quadrature import timed_runs
from curves.runs.results import RUN_WORDS, Runs, Targets, Trace

__all__ = [
    "RUN_WORDS",
    "Runs",
    "Targets",
    "Trace",
    "power_ceiling",
    "same_pack_power",
    "timed_runs",
]
