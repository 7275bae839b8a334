"""Coast-downs between a log, a job's setup and the job that takes what was found."""

from __future__ import annotations

from typing import Final

import numpy as np

from curves.measured.coastdown import Coast, Direction, Stretch
from curves.measured.measured_run import averaged
from curves.measured.rolling import Rolled
from curves.measured.samples import Log
from curves.measured.track import track
from curves.motion.tractive_force import ROTATING_SHARE
from curves.parts.conditions import air_density
from curves.parts.job import Job
from curves.parts.reading import refuse
from curves.parts.rig import Rig
from curves.setups.stack import stack
from curves.steady.runs_on import dragged_force
from curves.units import KMH

USUAL_TO: Final = 8.0
"""km/h down to which a coast-down counts: below it a rider balances and brakes."""
BELOW_TOP: Final = 0.97
"""Share of the top speed from which it counts: what comes before may still be driven."""


def rolled_of(rig: Rig) -> Rolled:
    """What rolls when a setup coasts, in its own air; a motor without a clutch turns along.

    Args:
        rig: the setup.
    """
    radius = rig.bike.roll_out_m / (2 * np.pi)
    wheels = rig.bike.wheel_inertia_kg_m2
    share = ROTATING_SHARE if wheels is None else wheels / radius**2 / rig.mass_kg
    density = float(air_density(rig.conditions.altitude_m, rig.conditions.air_c))
    at_rest, at_one = dragged_force(stack([rig]).batch(), np.array([[0.0, 1.0]]))[0]
    return Rolled(rig.mass_kg, share, density, (float(at_rest), float(at_one - at_rest)))


def coast_in(
    log: Log,
    direction: Direction,
    rig: Rig | None = None,
    *,
    from_kmh: float | None = None,
    to_kmh: float = USUAL_TO,
) -> Stretch:
    """The coast-down in a log: from its highest speed, or a lower one, down to a speed.

    Args:
        log: samples.
        direction: which way it was ridden.
        rig: what was ridden; needed where there are revolutions alone.
        from_kmh: speed from which it counts; a little below the highest if left out.
        to_kmh: speed down to which it counts.

    Raises:
        JobError: if the log has no speed, or does not slow from the one speed to the other.
    """
    from scipy.ndimage import median_filter

    path = track(log, rig)
    # A single sample far off is neither the top nor the end.
    speed = median_filter(path.speed, 5)
    fastest = int(np.argmax(speed))
    high = BELOW_TOP * speed[fastest] if from_kmh is None else from_kmh * KMH
    low = to_kmh * KMH
    after = speed[fastest:]
    if high > speed[fastest] or low >= high:
        top = speed[fastest] / KMH
        refuse(
            log.name,
            f"cannot slow from {high / KMH:.0f} to {to_kmh:g} km/h: its highest speed is {top:.0f}",
        )
    begin = fastest + int(np.argmax(after <= high))
    ends = np.flatnonzero(speed[begin:] <= low)
    if not ends.size:
        refuse(log.name, f"does not slow to {to_kmh:g} km/h after its highest speed")
    inside = slice(begin, begin + int(ends[0]) + 1)
    return Stretch(log.name, direction, *averaged(path.time[inside], path.speed[inside]))


def with_road_load(job: Job, bike: str, coast: Coast, *, source: str) -> Job:
    """The job with a bike's rolling resistance and drag as found; the old job stays.

    A bike that has coast-down coefficients gets new ones.

    Args:
        job: the job.
        bike: the bike's name in it.
        coast: what was found.
        source: for the source lines, such as ``coast-down.toml``.

    Raises:
        JobError: if there is no such bike, or a value is not allowed.
    """
    if bike not in job.bike:
        refuse("bike", f"there is none of that name; there are {', '.join(job.bike)}", bike)
    note = f"measured: coast-down ({source})"[:200]
    if job.bike[bike].road_load_n is not None:
        changed = job.replace(("bike", bike, "road_load_n"), [_short(x) for x in coast.values])
        return changed.replace(("bike", bike, "sources", "road_load_n"), note)
    found = {
        "rolling_coefficient": (coast.rolling_coefficient, coast.rolling_uncertainty),
        "drag_area_m2": (coast.drag_area, coast.area_uncertainty),
    }
    changed = job
    for field, (value, uncertainty) in found.items():
        changed = changed.replace(("bike", bike, field), _short(value))
        changed = changed.replace(("bike", bike, "sources", field), note)
        share = min(_short(uncertainty / value), 1.0) if value > 0 else None
        changed = changed.replace(("bike", bike, "tolerance", field), share)
    return changed


def _short(value: float) -> float:
    return float(f"{value:.4g}")
