"""Measured runs from rest, cut out of a log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, TypeAlias

import numpy as np

from curves.errors import JobError, Problem
from curves.measured.launch import Launch, launches
from curves.measured.samples import Log
from curves.measured.timeline import group_means
from curves.measured.track import Track, track
from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.units import KMH

Channel: TypeAlias = Literal["speed", "volts", "amperes"]
CHANNELS: Final[tuple[Channel, ...]] = ("speed", "volts", "amperes")
BEFORE_S: Final = 3.0
"""Time before the start that is kept: it shows that the bike stood."""
MOST: Final = 400
"""Samples of a run that a fit looks at; more are averaged."""


@dataclass(frozen=True)
class Run:
    """One measured run from rest, its clock near 0 at the start of motion.

    Attributes:
        name: For people.
        setup: Name of the job's setup that was ridden.
        time: s, rising, shape (samples,).
        speed: m/s, shape (samples,); NaN where not measured.
        volts: Of the pack, shape (samples,); None where the log has none.
        amperes: Out of the pack, shape (samples,); None where the log has none.
        changes: What was other than the job says for this run alone: a field of the stack, such as
            ``conditions.headwind_kmh``, to its value.
        start: When it began on its own clock, s.
        notes: What was done to the log, in sentences.
        began: When it began on the log's clock, s.
    """

    name: str
    setup: str
    time: Array
    speed: Array
    volts: Array | None = None
    amperes: Array | None = None
    changes: Mapping[str, float] = field(default_factory=dict)
    start: float = 0.0
    notes: tuple[str, ...] = ()
    began: float = 0.0

    def channel(self, channel: Channel) -> Array | None:
        """Samples of a channel."""
        value: Array | None = getattr(self, channel)
        return value

    @property
    def launch(self) -> Launch:
        """Where it begins and ends."""
        return Launch(self.start, 0.0, float(self.time[-1]), float(np.nanmax(self.speed)))


def runs_in(
    log: Log, rig: Rig, *, start: float | None = None, changes: Mapping[str, float] | None = None
) -> tuple[Run, ...]:
    """Every run from rest in a log, each with its clock at 0 where motion begins.

    Args:
        log: samples.
        rig: what was ridden.
        start: where a person says that the run begins, s on the log's clock; then there is one.
        changes: what was other than the job says, for all of them.

    Raises:
        JobError: if there is none.
    """
    path = track(log, rig)
    found = launches(path.time, path.speed)
    if start is not None:
        found = (_from(path, start, found),)
    if not found:
        top = float(path.speed.max(initial=0.0)) / KMH
        raise JobError(
            [
                Problem(
                    log.name,
                    "",
                    "no run from rest is found (the bike must stand, then pass 11 km/h); the log "
                    f"shows up to {top:.0f} km/h: check its unit, or say where the run begins",
                )
            ]
        )
    return tuple(
        _cut(log, path, rig.name, launch, k if len(found) > 1 else 0, changes or {})
        for k, launch in enumerate(found, 1)
    )


def averaged(time: Array, values: Array, most: int = MOST) -> tuple[Array, Array]:
    """Neighbours averaged until no more than ``most`` are left.

    Args:
        time: s, shape (samples,).
        values: shape (samples,).
        most: samples.
    """
    size = -(-time.size // most)
    if size < 2:
        return time, values
    means = group_means(np.column_stack((time, values)), np.arange(0, time.size, size))
    return means[:, 0], means[:, 1]


def _from(path: Track, start: float, found: tuple[Launch, ...]) -> Launch:
    """The run that begins where a person says, ended as the one found there."""
    after = path.time > start
    if after.sum() < 4:
        raise JobError(
            [Problem("--start-s", f"{start:g}", f"the log ends at {path.time[-1]:.1f} s")]
        )
    if start < path.time[0] - BEFORE_S:
        raise JobError(
            [Problem("--start-s", f"{start:g}", f"the log begins at {path.time[0]:.1f} s")]
        )
    near = [launch for launch in found if abs(launch.start - start) < 3.0 or launch.end > start]
    end = near[0].end if near and near[0].end > start else float(path.time[-1])
    inside = after & (path.time <= end)
    return Launch(start, 0.0, end, float(path.speed[inside].max()))


def _cut(
    log: Log, path: Track, setup: str, launch: Launch, number: int, changes: Mapping[str, float]
) -> Run:
    inside = (path.time >= launch.start - BEFORE_S) & (path.time <= launch.end)
    rows = path.index[inside]

    def channel(quantity: str) -> Array | None:
        return log.values[quantity][rows] if quantity in log.values else None

    volts, amperes, watts = (channel(q) for q in ("pack_v", "pack_a", "pack_w"))
    if amperes is None and watts is not None and volts is not None:
        amperes = np.where(volts > 0, watts / np.where(volts > 0, volts, 1.0), np.nan)
    return Run(
        name=f"{log.name} run {number}" if number else log.name,
        setup=setup,
        time=path.time[inside] - launch.start,
        speed=path.speed[inside],
        volts=volts,
        amperes=amperes,
        changes=changes,
        notes=(*log.notes, *path.notes),
        began=launch.start,
    )
