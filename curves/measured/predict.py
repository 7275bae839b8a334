"""What a job predicts of measured runs: speed and distance, volts and amperes at given times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from curves.measured.measured_run import Run
from curves.motion.runs.ends import ends
from curves.motion.runs.panels import Panels
from curves.motion.runs.quadrature import ride
from curves.motion.tractive_force import push
from curves.numerics.roots import Array, Index
from curves.parts.reading import refuse, show
from curves.point.limits import sagged_voltage
from curves.setups.batch import Batch
from curves.setups.stack import Stack
from curves.steady.envelope import draw, input_power_at


class Ridden(NamedTuple):
    """Runs from rest of a batch of setups, ready to be looked up."""

    batch: Batch
    panels: Panels
    tail: Array
    top: Array

    def at(self, rows: Index, times: Array) -> tuple[Array, Array]:
        """Speed, m/s, and distance, m, at times; at rest before the start, or if it cannot start.

        Args:
            rows: Which setup each row of times belongs to, shape (rows,).
            times: s since the start, shape (rows, samples); NaN gives NaN.
        """
        panels = Panels(*(x[rows] for x in self.panels))
        clipped = np.maximum(times, 0.0)
        _, distance, speed = panels.reach(panels.time, clipped)
        last_t, last_x, last_v = (x[:, None] for x in panels.end())
        top, tail = self.top[rows, None], self.tail[rows, None]
        after = clipped - last_t
        with np.errstate(divide="ignore", invalid="ignore"):
            left = np.where(tail > 0, np.exp(-np.maximum(after, 0.0) / tail), 0.0)
        gap = top - last_v
        late = after > 0
        speed = np.where(late, top - gap * left, speed)
        distance = np.where(late, last_x + top * after - gap * tail * (1 - left), distance)
        # A trial that cannot start stands; were it left out, it would seem to fit.
        stands = np.isnan(self.top)[rows, None] & ~np.isnan(times)
        return np.where(stands, 0.0, speed), np.where(stands, 0.0, distance)


def ridden(stacked: Stack) -> Ridden:
    """Runs from rest, the state of charge and temperatures held.

    Args:
        stacked: The setups.
    """
    p = push(stacked)
    end = ends(p)
    panels, tail = ride(p, end, stacked.of("controller.torque_rise_s"), 0.0)
    return Ridden(p.batch, panels, tail, end.speed)


def electrics(b: Batch, rows: Index, speed: Array) -> tuple[Array, Array]:
    """Pack volts and amperes at full drive at road speeds.

    At rest, and where nothing is driven, they are those of the open pack.

    Args:
        b: The setups.
        rows: Which setup each row belongs to, shape (rows,).
        speed: m/s, shape (rows, samples).
    """
    part = b.pick(rows)
    drawn = draw(part, np.nan_to_num(speed))
    power = input_power_at(part, drawn)
    volts = sagged_voltage(part.drive, power)
    driven = ~np.isnan(power) & (speed > 0)
    open_v = np.broadcast_to(part.drive.open_circuit_v, driven.shape)
    with np.errstate(invalid="ignore"):
        return np.where(driven, volts, open_v), np.where(driven, power / volts, 0.0)


def changed(base: Stack, runs: Sequence[Run]) -> Stack:
    """A stack of runs with what was other than the job says for each.

    Args:
        base: one setup a run.
        runs: what was measured.

    Raises:
        JobError: if a change is no field of a setup.
    """
    values = dict(base.values)
    for k, run in enumerate(runs):
        for name, value in run.changes.items():
            if name not in values:
                refuse(run.name, "is no field of a setup", show(name))
            values[name] = values[name].copy()
            values[name][k] = value
    return replace(base, values=values)
