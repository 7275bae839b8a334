"""Speed over time from whatever a log has: speed, distance, positions, or revolutions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from curves.errors import JobError, Problem
from curves.measured.samples import Log
from curves.numerics.roots import Array
from curves.parts.rig import Rig

EARTH_M: Final = 6_371_008.8
"""Mean radius of the earth (IUGG)."""
HELD: Final = 0.5
"""Share of repeated values, while speed changes, from which a slower source is held over."""
FASTEST: Final = 60.0
"""m/s; what positions give beyond is a jump, not riding."""


@dataclass(frozen=True)
class Track:
    """Speed over time.

    Attributes:
        time: s on the log's clock, rising, shape (samples,).
        speed: m/s, shape (samples,).
        index: Which samples of the log these are, shape (samples,).
        source: The quantity it comes from.
        notes: What was done, in sentences.
    """

    time: Array
    speed: Array
    index: NDArray[np.intp]
    source: str
    notes: tuple[str, ...] = ()


def track(log: Log, rig: Rig | None = None) -> Track:
    """Speed over time.

    Args:
        log: samples.
        rig: what was ridden; needed where there are revolutions alone.

    Raises:
        JobError: if the log has nothing speed could come from.
    """
    has = log.values
    if "speed" in has:
        return _fresh(log.time, has["speed"], "speed")
    if "wheel_rpm" in has and rig is not None:
        return _fresh(log.time, has["wheel_rpm"] * rig.bike.roll_out_m / (2 * np.pi), "wheel_rpm")
    for quantity in ("rotor_rpm", "electrical_rpm"):
        if quantity in has and rig is not None and len(rig.bike.ratios) == 1:
            pairs = rig.motor.pole_pairs if quantity == "electrical_rpm" else 1
            wheel = has[quantity] / (pairs * rig.motor.gear_ratio * rig.bike.ratios[0])
            return _fresh(log.time, wheel * rig.bike.roll_out_m / (2 * np.pi), quantity)
    if "distance" in has:
        return _differences(log.time, has["distance"], "distance")
    if "latitude" in has and "longitude" in has:
        return _differences(log.time, path_length(has["latitude"], has["longitude"]), "positions")
    geared = rig is not None and len(rig.bike.ratios) > 1
    raise JobError(
        [
            Problem(
                log.name,
                "",
                "has neither speed, distance nor positions; name a column, as in --columns "
                "speed=NAME:km/h"
                + (" (with gears, the motor's revolutions do not tell speed)" if geared else ""),
            )
        ]
    )


def path_length(latitude: Array, longitude: Array) -> Array:
    """Distance along positions, m from the first; NaN where there is no position.

    Args:
        latitude: degrees, shape (samples,); 0, 0 counts as none.
        longitude: degrees, same shape.
    """
    north, east = np.radians(latitude), np.radians(longitude)
    known = np.isfinite(north) & np.isfinite(east) & ((north != 0) | (east != 0))
    out = np.full(north.shape, np.nan)
    north, east = north[known], east[known]
    across = np.diff(east) * np.cos((north[1:] + north[:-1]) / 2)
    steps = EARTH_M * np.hypot(np.diff(north), across)
    out[known] = np.concatenate(([0.0], np.cumsum(steps)))[: out[known].size]
    return out


def _fresh(time: Array, speed: Array, source: str) -> Track:
    """Samples of speed as they arrived: those that only repeat a slower source are left out."""
    known = np.flatnonzero(np.isfinite(speed))
    if known.size < 3:
        return Track(time[known], np.abs(speed[known]), known, source)
    v = np.abs(speed[known])
    new = np.concatenate(([True], np.diff(v) != 0))
    runs = np.diff(np.flatnonzero(new), append=v.size)
    changing = runs[runs < 50]
    usual = int(np.median(changing)) if changing.size else 1
    repeats = 1 - np.mean(new[v > 0.3 * np.max(v)]) if np.any(v > 0) else 0.0
    if repeats < HELD or usual < 2:
        return Track(time[known], v, known, source)
    # A long repeat is a steady speed: it stays, at the pace of the source.
    since = np.arange(v.size) - np.repeat(np.flatnonzero(new), runs)
    kept = since % usual == 0
    note = (
        f"Speed repeats about {usual} times before it changes: its source is slower than the log, "
        "and only new values are used."
    )
    return Track(time[known][kept], v[kept], known[kept], source, (note,))


def _differences(time: Array, distance: Array, source: str) -> Track:
    known = np.flatnonzero(np.isfinite(distance))
    t, x = time[known], distance[known]
    if t.size < 3:
        return Track(t[:0], t[:0], known[:0], source)
    speed = np.diff(x) / np.diff(t)
    sane = (speed >= 0) & (speed < FASTEST)
    note = f"Speed is the change of {source} from sample to sample, which is noisier than a speed."
    # Between two samples the mean speed belongs to the middle.
    return Track(((t[1:] + t[:-1]) / 2)[sane], speed[sane], known[1:][sane], source, (note,))
