"""The job with what a fit found in it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from curves.measured.fit import Fit
from curves.measured.measured_run import Run
from curves.parts.job import Job


def corrected(job: Job, found: Fit, *, runs: Sequence[Run]) -> Job:
    """The job with what was found in it, each value with its source and tolerance; the old stays.

    Args:
        job: as it was fitted.
        found: what was found.
        runs: what it rests on.

    Raises:
        JobError: if a value found is not allowed in a job.
    """
    names = ", ".join(dict.fromkeys(run.name for run in runs))
    note = f"measured: fitted to {len(runs)} run{'s' * (len(runs) > 1)} ({names})"[:200]
    changed = job
    for k, parameter in enumerate(found.parameters):
        value, u = float(found.values[k]), float(found.uncertainty[k])
        digits = max(2 - int(np.floor(np.log10(max(u, 1e-9)))), 0)
        value = float(np.clip(round(value, digits), parameter.lower, parameter.upper))
        path = parameter.path
        if isinstance(path[-1], int):
            whole = list(changed.bike[str(path[1])].road_load_n or (0.0, 0.0, 0.0))
            whole[path[-1]] = value
            changed = changed.replace(path[:-1], whole)
            path = path[:-1]
        else:
            changed = changed.replace(path, value)
        if path[0] == "setup":
            continue
        table, name = path[:-1], str(path[-1])
        changed = changed.replace((*table, "sources", name), note)
        if isinstance(parameter.path[-1], str) and value != 0:
            share = min(float(f"{u / abs(value):.2g}"), 1.0)
            changed = changed.replace((*table, "tolerance", name), share)
    return changed
