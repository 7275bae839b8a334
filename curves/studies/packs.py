"""Which pack? Cells in series against top speed, and the count where more volts stop helping."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.errors import JobError, Problem
from curves.motion.runs import Runs, Targets, timed_runs
from curves.numerics.roots import Array
from curves.parts.pack import cell_curve
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.steady.balance import batch_top_speed
from curves.studies.cells import Caps, Hold, with_series
from curves.studies.common import (
    most_winding_loss,
    pick,
    running,
    settled_winding,
)
from curves.studies.helping import MOST_CELLS, Line
from curves.studies.knee import Knee, find_knee
from curves.units import PERCENT


@dataclass(frozen=True)
class PackSweep:
    """A setup with packs of every count. SI; NaN where not known or where the bike cannot start.

    Attributes:
        name: The setup.
        hold: What stayed.
        caps: What the caps did.
        series: Cells in series, shape (counts,).
        charge: States of charge, 0 to 1, shape (charges,).
        grade: Tangent of the slope, shape (grades,).
        strings: Parallel strings, shape (counts,).
        resistance: Of the pack, ohm, shape (counts,).
        mass: Of the pack, kg, shape (counts,).
        energy: At the cells' nominal voltage, Wh, shape (counts,).
        price: In the job's currency, by the cell, shape (counts,).
        charge_hours: Capacity over charging current: an estimate that leaves out the taper.
        full_v: Charged full, V, shape (counts,).
        open_circuit_v: V, shape (charges, counts).
        top_speed: m/s, shape (charges, grades, counts).
        limited_by: Words in the same order: ``limited_by[charge][grade][count]``.
        pack_current: At top speed, A, shape (charges, grades, counts).
        phase_current: At top speed, peak A, same shape.
        winding_loss: At top speed, W, same shape.
        most_winding_loss: Between rest and top speed at full throttle, W, same shape.
        winding_c: Settled at top speed, °C, same shape; infinite where nothing settles, NaN where
            the motor's heat is not known or was not asked.
        runs: Splits, rows in the order (charge, grade, count) run through; None if not asked.
        knee: Where voltage no longer limits top speed under these caps.
        grown: Top speed with caps that grow with the pack, for the first charge and slope.
    """

    name: str
    hold: Hold
    caps: Caps
    series: Array
    charge: Array
    grade: Array
    strings: Array
    resistance: Array
    mass: Array
    energy: Array
    price: Array
    charge_hours: Array
    full_v: Array
    open_circuit_v: Array
    top_speed: Array
    limited_by: tuple[tuple[tuple[tuple[str, ...], ...], ...], ...]
    pack_current: Array
    phase_current: Array
    winding_loss: Array
    most_winding_loss: Array
    winding_c: Array
    runs: Runs | None
    knee: Knee
    grown: Line

    def line(self, charge: int = 0, slope: int = 0) -> Line:
        """Top speed over the counts at one of the charges and slopes, by their places."""
        return Line(self.series, self.top_speed[charge, slope], self.limited_by[charge][slope])


def pack_sweep(
    rig: Rig,
    series: Sequence[int],
    *,
    hold: Hold = "strings",
    caps: Caps = "present",
    charge: Sequence[float] | None = None,
    grade_percent: Sequence[float] | None = None,
    targets: Targets | None = None,
    heat: bool = False,
) -> PackSweep:
    """A setup with other numbers of cells in series.

    Pack mass, resistance, cut-offs of BMS and tune, and current ratings follow cells and strings.

    Args:
        rig: The setup; its pack must be made of cells.
        series: Whole counts of one or more, rising.
        hold: What stays while the count changes.
        caps: What the power cap and the tune's pack current do.
        charge: States of charge, 0 to 1; the setup's own if left out.
        grade_percent: Slopes; the setup's own if left out.
        targets: Splits to time; none if left out.
        heat: Whether settled temperatures are wanted, which take longer.

    Raises:
        JobError: for a source pack, or counts that are not whole, rising and within 1 to 400.
    """
    base = _base(rig, series)
    count = np.asarray(series, dtype=np.float64)
    charges = np.array([rig.state_of_charge] if charge is None else charge, dtype=np.float64)
    own = rig.conditions.grade_percent
    grades = np.array([own] if grade_percent is None else grade_percent, dtype=np.float64)
    shape = (charges.size, grades.size, count.size)
    c, g, n = (x.ravel() for x in np.meshgrid(charges, grades, count, indexing="ij"))
    every = with_series(base, n, hold=hold, caps=caps, charge=c, grade_percent=g)
    batch = every.batch()
    top = batch_top_speed(batch, every.names)
    at = running(batch, top.speed)
    first = pick(every, np.arange(count.size))
    full = with_series(base, count, hold=hold, charge=np.ones_like(count)).batch()
    strings = first.values["pack.parallel"]
    cell = cell_curve(rig.pack.cell or "")
    capacity = strings * first.values["pack.cell_capacity_ah"]
    dead = np.isnan(top.speed)

    def cube(x: Array) -> Array:
        return np.where(dead, np.nan, x).reshape(shape)

    words = iter(top.limited_by)
    return PackSweep(
        name=rig.name,
        hold=hold,
        caps=caps,
        series=count,
        charge=charges,
        grade=grades * PERCENT,
        strings=strings,
        resistance=full.drive.pack_resistance[:, 0],
        mass=first.of("pack.mass_kg"),
        energy=count * cell.nominal_v * capacity,
        price=first.values["pack.price"],
        charge_hours=capacity / first.values["pack.charger_a"],
        full_v=full.drive.open_circuit_v[:, 0],
        open_circuit_v=batch.drive.open_circuit_v.reshape(shape)[:, 0, :],
        top_speed=cube(top.speed),
        limited_by=tuple(tuple(tuple(next(words) for _ in count) for _ in grades) for _ in charges),
        pack_current=cube(at.pack_current),
        phase_current=cube(at.phase_current),
        winding_loss=cube(at.winding_loss),
        most_winding_loss=cube(most_winding_loss(batch, top.speed)),
        winding_c=cube(settled_winding(every, top.speed) if heat else np.full(c.size, np.nan)),
        runs=None if targets is None else timed_runs(every, targets),
        knee=find_knee(base, series, hold, caps, charges, grades),
        grown=_grown(base, count, hold, charges[0], grades[0]),
    )


def _grown(base: Stack, count: Array, hold: Hold, charge: float, grade: float) -> Line:
    full = np.ones_like(count)
    every = with_series(
        base, count, hold=hold, caps="grown", charge=charge * full, grade_percent=grade * full
    )
    top = batch_top_speed(every.batch(), every.names)
    return Line(count, top.speed, top.limited_by)


def _base(rig: Rig, series: Sequence[int]) -> Stack:
    problems = []
    if not rig.pack.from_cells:
        message = "a source pack has no cells to count; sweep open_circuit_v instead"
        problems.append(Problem(f"[[setup]] {rig.name!r} pack", "a source", message))
    whole = [n for n in series if not (1 <= n <= MOST_CELLS and n == int(n))]
    if whole:
        problems.append(Problem("series", f"{whole[0]}", f"must be whole, 1 to {MOST_CELLS}"))
    elif not len(series) or any(b <= a for a, b in itertools.pairwise(series)):
        problems.append(Problem("series", f"{list(series)}", "must be one or more rising counts"))
    if problems:
        raise JobError(problems)
    return stack([rig])
