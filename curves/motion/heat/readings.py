"""Heat values made surer by temperatures read after a load."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from curves.motion.heat.march import TOO_ABRUPT, march
from curves.motion.state import rows
from curves.numerics.roots import Array
from curves.parts.heating import HALF, HEAT_FIELDS
from curves.parts.motor import Motor
from curves.parts.rig import Rig
from curves.setups.stack import Stack, stack
from curves.units import PERCENT

STEP = 0.02
ROUNDS = 12
CLOSE = 1e-3
"""A relative change of a value that no longer matters: they are known to tenths at best."""


@dataclass(frozen=True)
class Reading:
    """A winding temperature after a steady load, from a logged hill or from two resistances.

    Attributes:
        speed: Road speed held, m/s.
        grade: Tangent.
        time: How long, s, above 0.
        winding_c: Winding at the end, °C; ``winding_temperature`` turns two resistances into it.
        start_c: Motor at the beginning, °C.
        error_k: Standard uncertainty of the reading, K, above 0.
    """

    speed: float
    grade: float
    time: float
    winding_c: float
    start_c: float
    error_k: float = 3.0


@dataclass(frozen=True)
class Improved:
    """What readings have made of the heat values.

    Attributes:
        motor: The motor with its new values and tolerances.
        before_c: Winding temperatures predicted before, °C, shape (readings,).
        after_c: Predicted now, °C, shape (readings,).
    """

    motor: Motor
    before_c: Array
    after_c: Array


def improved_heat(rig: Rig, readings: Sequence[Reading]) -> Improved:
    """The most likely heat values, given what they were thought to be and readings.

    Each value is taken as log-normal about what the motor states, with its tolerance (half its
    size where it states none), each reading as normal; the most likely values are found by Gauss
    and Newton, their new tolerances from the curvature there. What a reading does not tell apart
    keeps its tolerance; what it tells only of values together is lost in their single tolerances,
    so bands computed from them are rather too wide.

    Args:
        rig: The setup that was ridden; its motor must have the five heat values.
        readings: One or more.

    Raises:
        ValueError: if a heat value is missing, a reading has no time or no uncertainty, or its
            temperatures need more steps than are taken.
    """
    motor = rig.motor
    missing = [name for name in HEAT_FIELDS if getattr(motor, name) is None]
    if missing:
        raise ValueError(f"the motor has no {', '.join(missing)}: take typical values first")
    if not readings or any(not (r.time > 0 and r.error_k > 0) for r in readings):
        raise ValueError("give one reading or more, each with a time and an error above 0")
    prior = np.log([float(getattr(motor, name)) for name in HEAT_FIELDS])
    spread = np.array([motor.tolerance.get(name, HALF) or HALF for name in HEAT_FIELDS])
    read = np.array([r.winding_c for r in readings])
    error = np.array([r.error_k for r in readings])
    base = stack([rig])
    x, probe = np.copy(prior), np.vstack((np.zeros(prior.size), STEP * np.eye(prior.size)))
    before = _predicted(base, readings, x[None])[:, 0]
    for _ in range(ROUNDS):
        got = _predicted(base, readings, x + probe)
        slope = (got[:, 1:] - got[:, :1]) / STEP / error[:, None]
        weight = slope.T @ slope + np.diag(spread**-2.0)
        pull = slope.T @ ((read - got[:, 0]) / error) + (prior - x) / spread**2
        move = np.clip(np.linalg.solve(weight, pull), -0.7, 0.7)
        x = x + move
        if np.max(np.abs(move)) < CLOSE:
            break
    sure = np.sqrt(np.diag(np.linalg.inv(weight)))
    said = "measured: improved by temperatures after a load"
    new = motor.model_copy(
        update={
            **dict(zip(HEAT_FIELDS, (float(v) for v in np.exp(x)), strict=True)),
            "sources": {**motor.sources, **dict.fromkeys(HEAT_FIELDS, said)},
            "tolerance": {
                **motor.tolerance,
                **dict(zip(HEAT_FIELDS, (float(min(t, 1.0)) for t in sure), strict=True)),
            },
        }
    )
    return Improved(new, before, _predicted(base, readings, x[None])[:, 0])


def _predicted(base: Stack, readings: Sequence[Reading], logs: Array) -> Array:
    """Winding after each reading's load, °C, (readings, values), for rows of heat values."""
    count = logs.shape[0]
    every = rows(base, np.zeros(count, dtype=np.intp))
    values = {f"motor.{name}": np.exp(logs[:, k]) for k, name in enumerate(HEAT_FIELDS)}
    never = {"motor.winding_limit_c": np.nan, "motor.magnet_limit_c": np.nan}
    nothing = np.zeros((3, count), dtype=np.bool_)
    nothing[0] = True
    ends = []
    for r in readings:
        state = {
            "conditions.grade_percent": r.grade / PERCENT,
            "setup.winding_c": r.start_c,
            "setup.magnet_c": r.start_c,
        }
        fixed = {name: np.full(count, value) for name, value in {**state, **never}.items()}
        loaded = replace(every, values={**every.values, **values, **fixed})
        got = march(
            loaded,
            np.full(count, r.speed),
            time=r.time,
            distance=np.full(count, np.inf),
            awaited=nothing,
        )
        if got.given_up.any():
            raise ValueError(f"this load cannot be followed: {TOO_ABRUPT}")
        ends.append(got.end_winding_c)
    return np.array(ends)
