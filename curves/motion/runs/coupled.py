"""Timed runs whose state moves: sag, charge and temperatures, by an event-located integration.

Slower than the quadrature and free of its assumption; with the state held both agree.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curves.motion.runs.motion import ENERGIES, STATES, Motion, motion
from curves.motion.runs.quadrature import frozen_runs
from curves.motion.runs.results import Runs, Targets, sentences, trap_speed, with_trap
from curves.motion.runs.riding import TOO_ABRUPT, Ride, advance, pending, start
from curves.motion.state import rows
from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack

ACCURACY = 3e-9
"""Of a step, relative."""
LONGEST_S = 3600.0
RESULTS = (
    "speed_time",
    "speed_distance",
    "distance_time",
    "distance_speed",
    "trap_speed",
    "end_speed",
)


@dataclass(frozen=True)
class CoupledRuns:
    """Timed runs, and what they used.

    Attributes:
        runs: The splits.
        energy: J from the start to the end of the ride, by the names in ``ENERGIES`` and
            ``kinetic``, each of shape (setups,): ``cells + rider`` is the sum of the others.
        charge: At the end, 0 to 1; NaN where it is not followed.
        winding_c: At the end, °C.
        case_c: At the end, °C.
        ride: States over time, for traces.
    """

    runs: Runs
    energy: dict[str, Array]
    charge: Array
    winding_c: Array
    case_c: Array
    ride: Ride


def coupled_runs(
    rigs: Sequence[Rig] | Stack,
    targets: Targets | None = None,
    *,
    shift_s: float = 0.0,
    moving: bool = True,
    accuracy: float = ACCURACY,
) -> CoupledRuns:
    """Splits of a run from rest for every setup, while charge and temperatures move.

    Args:
        rigs: The setups, or a stack of them; a dozen take about a second.
        targets: Speeds and distances to be timed; the usual ones if left out.
        shift_s: Time without drive at each change of gear, s.
        moving: False holds the state, as the quadrature does.
        accuracy: Of a step, relative; ten thousand times this is about the error of a split in s.

    Returns:
        NaN and a sentence where a target is not reached, or where the run needs more steps than
        are taken with one. Temperatures stay where the motor's heat values are not given, charge
        where the pack is a source or the cells' capacity is not given.
    """
    asked = targets or Targets()
    stacked = rigs if isinstance(rigs, Stack) else stack(rigs)
    frozen = frozen_runs(stacked, asked, shift_s=shift_s)
    m = motion(stacked, frozen.end.held, moving=moving)
    marks = np.concatenate((with_trap(asked.distances), [asked.roll_out]))
    ride = start(m, (np.array(asked.speeds), marks), frozen, accuracy)
    horizon = _horizon(frozen.runs)
    while True:
        advance(m, ride, horizon, shift_s)
        if ride.given_up or horizon >= LONGEST_S or not pending(m, ride):
            break
        horizon = min(1.5 * horizon + 5, LONGEST_S)
    if ride.given_up and len(stacked.names) > 1:
        # Each for itself, so that one that jumps ends no other's run.
        own = (rows(stacked, np.array([k])) for k in range(len(stacked.names)))
        alone = [
            coupled_runs(one, asked, shift_s=shift_s, moving=moving, accuracy=accuracy)
            for one in own
        ]
        return _together(alone, asked, ride)
    return _result(m, ride, asked, frozen.runs)


def _together(alone: Sequence[CoupledRuns], asked: Targets, ride: Ride) -> CoupledRuns:
    """Runs ridden one by one as one answer; the traces are those of the ride that was given up."""

    def joined(parts: Iterable[Array], axis: int = 0) -> Array:
        return np.concatenate(list(parts), axis=axis)

    runs = Runs(
        names=tuple(name for one in alone for name in one.runs.names),
        targets=asked,
        notes=tuple(note for one in alone for note in one.runs.notes),
        **{name: joined(getattr(one.runs, name) for one in alone) for name in RESULTS},
    )
    return CoupledRuns(
        runs=runs,
        energy={name: joined(one.energy[name] for one in alone) for name in alone[0].energy},
        charge=joined(one.charge for one in alone),
        winding_c=joined(one.winding_c for one in alone),
        case_c=joined(one.case_c for one in alone),
        ride=replace(
            ride,
            reached=joined(one.ride.reached for one in alone),
            at=joined((one.ride.at for one in alone), axis=1),
            state=joined((one.ride.state for one in alone), axis=1),
        ),
    )


def _horizon(frozen: Runs) -> float:
    times = np.concatenate((frozen.speed_time, frozen.distance_time), axis=1)
    usual = times[np.isfinite(times)].max(initial=1.0)
    return float(min(1.02 * usual + 1, LONGEST_S))


def _result(m: Motion, ride: Ride, asked: Targets, frozen: Runs) -> CoupledRuns:
    speeds, d = len(asked.speeds), len(asked.distances)
    clock = ride.reached[:, -1:]
    t_v, t_x = ride.reached[:, :speeds], ride.reached[:, speeds:-1]
    end = np.where(np.isnan(frozen.end_speed), np.nan, np.maximum(ride.state[0], 0.0))
    times = np.concatenate((t_v, t_x[:, :d]), axis=1)
    dead = np.isnan(frozen.end_speed)
    runs = Runs(
        names=m.stacked.names,
        targets=asked,
        speed_time=np.maximum(t_v - clock, 0.0),
        speed_distance=np.where(np.isnan(t_v), np.nan, ride.at[1, :, :speeds]),
        distance_time=np.maximum(t_x[:, :d] - clock, 0.0),
        distance_speed=np.where(np.isnan(t_x[:, :d]), np.nan, ride.at[0, :, speeds : speeds + d]),
        trap_speed=trap_speed(t_x),
        end_speed=end,
        notes=tuple(
            frozen.notes[k] if dead[k] else _notes(ride, asked, end[k], times[k])
            for k in range(end.size)
        ),
    )
    y = ride.state
    p = m.push_at(y, ride.gear)
    mass = p.net(np.maximum(y[0], 0.0)[:, None])[1][:, 0]
    energy = {name: y[STATES.index(name)] for name in ENERGIES}
    energy["kinetic"] = 0.5 * mass * y[0] ** 2
    followed = np.isfinite(m.full_charge)
    return CoupledRuns(runs, energy, np.where(followed, y[2], np.nan), y[3], y[4], ride)


def _notes(ride: Ride, asked: Targets, end: float, times: Array) -> tuple[str, ...]:
    """A sentence on each target that is not reached, or why the run was not followed to it."""
    if ride.given_up and np.isnan(times).any():
        where = f"It is followed for {ride.time[-1]:.2g} s only"
        return (f"{where}: {TOO_ABRUPT}.",)
    return sentences(asked, end, 0.0, times)
