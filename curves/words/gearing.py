"""What a sweep of reductions or wheels says."""

from __future__ import annotations

import numpy as np

from curves.steady.starting import starts
from curves.studies.gearing import Best, GearSweep
from curves.units import AS_WRITTEN, FOOT, KMH, MPH, Units


def sentence(sweep: GearSweep, units: Units = AS_WRITTEN) -> str:
    """The answer in plain sentences."""
    return " ".join(statements(sweep, units))


def statements(sweep: GearSweep, units: Units = AS_WRITTEN) -> list[str]:
    """The answer with its numbers, a sentence each.

    Args:
        sweep: What was found.
        units: For the sentences.
    """
    best = sweep.fastest
    if not starts(best.value):
        return ["It cannot start with any of them."]
    what, unit = ("reduction", "") if sweep.changed == "reduction" else ("roll-out", " m")
    now = sweep.top_speed[int(np.argmin(np.abs(sweep.value - sweep.present)))]
    said = [
        f"The fastest {what} is {best.value:.3g}{unit}{_at_end(sweep, best)}, with "
        f"{units.speed(best.result):.1f} {units.name('km/h')}; now {sweep.present:.3g}{unit} gives "
        f"{f'{units.speed(now):.1f}' if starts(now) else 'no start'}.",
        f"From {best.low:.3g} to {best.high:.3g}{unit} is as good.",
    ]
    goals = (*map(_speed_said, sweep.targets.speeds), *map(_way_said, sweep.targets.distances))
    for goal, found in zip(goals, sweep.quickest, strict=True):
        if not np.isnan(found.value):
            said.append(
                f"Quickest {goal}: {found.value:.3g}{unit}{_at_end(sweep, found)}, in "
                f"{found.result:.1f} s."
            )
    return said


def _speed_said(speed: float) -> str:
    """A speed in the unit in which it is round."""
    mph = speed / MPH
    return f"to {mph:.0f} mph" if abs(mph - round(mph)) < 1e-6 else f"to {speed / KMH:.0f} km/h"


def _way_said(distance: float) -> str:
    feet = distance / FOOT
    return f"over {feet:.0f} ft" if abs(feet - round(feet)) < 1e-6 else f"over {distance:.0f} m"


def _at_end(sweep: GearSweep, best: Best) -> str:
    at = best.value in (sweep.value[0], sweep.value[-1])
    return " (the end of the range)" if at else ""
