"""One setup over road speed as the pages draw it: asked of ``curves``, kept in km/h and SI."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curves import Rig
from curves.cautions import Facts, survey
from curves.point.gains import LIMIT_WORDS
from curves.present.span import line_end
from curves.setups.stack import stack
from curves.steady.balance import TopSpeed, batch_top_speed
from curves.steady.braking import batch_braking
from curves.steady.envelope import batch_envelope
from curves.units import KMH

Array = NDArray[np.float64]

POINTS = 160
"""Speeds at which a line is drawn, at most."""


@dataclass(frozen=True)
class Curve:
    """One setup over road speed, for drawing; arrays of one length, NaN where not driven.

    Attributes:
        speed: Road speed, km/h, to the end of the line.
        force: At the rim, N.
        road: Road load, N.
        rim_power: W.
        pack_power: W.
        pack_current: A.
        phase_current: Peak A.
        pack_voltage: V.
        efficiency: 0 to 1.
        braking: Force that the motor can brake with at the rim, N; NaN where it cannot.
        limits: Words of what limits at each speed.
        top: Top speed, km/h, NaN where it cannot start.
        top_limits: Words of what limits there.
        top_force: Rim force there, N.
        no_load: No-load speed, km/h, NaN for none.
        brakes: Speed above which it brakes itself if the drive goes off, km/h; NaN for none, and
            where it cannot start.
        harms: Speed above which the back-EMF can harm the controller, km/h; NaN likewise.
        facts: What it asks of its parts.
    """

    speed: Array
    force: Array
    road: Array
    rim_power: Array
    pack_power: Array
    pack_current: Array
    phase_current: Array
    pack_voltage: Array
    efficiency: Array
    braking: Array
    limits: tuple[tuple[str, ...], ...]
    top: float
    top_limits: tuple[str, ...]
    top_force: float
    no_load: float
    brakes: float
    harms: float
    facts: Facts

    @property
    def starts(self) -> bool:
        """Whether it starts at all."""
        return self.facts.starts

    @property
    def end(self) -> float:
        """Speed at which the line ends, km/h."""
        return float(self.speed[-1])


def draw(rigs: Sequence[Rig]) -> list[Curve]:
    """Every setup over road speed, in one batch."""
    batch = stack(rigs).batch()
    top = batch_top_speed(batch, tuple(rig.name for rig in rigs))
    speed = np.stack([_grid(e) for e in line_end(batch, top) / KMH])
    found = batch_envelope(batch, top.names, speed * KMH)
    facts = survey(rigs, top)
    braking = _braking(rigs, speed)
    return [_curve(top, found, speed, braking, k, facts[k]) for k in range(len(rigs))]


def _braking(rigs: Sequence[Rig], speed: Array) -> Array:
    """What the motors brake with at the rim, N, at road speeds in km/h; NaN where they cannot."""
    force = np.full(speed.shape, np.nan)
    able = [
        k
        for k, rig in enumerate(rigs)
        if rig.tune.regen_pack_current_a > 0 and not rig.motor.overrunning_clutch
    ]
    if able:
        some = stack([rigs[k] for k in able])
        force[able] = -batch_braking(some.batch(), some.names, speed[able] * KMH).rim_force
    return force


def _grid(end: float) -> Array:
    """Speeds shared by all lines as far as they go, and the very end."""
    step = 0.0625
    while end / step > POINTS - 2:
        step *= 2
    even = np.arange(POINTS) * step
    # At the very no-load speed rounding may leave no drive.
    speeds: Array = np.minimum(even, end * (1 - 1e-9))
    return speeds


def _curve(top: TopSpeed, found: Any, speed: Array, braking: Array, k: int, facts: Facts) -> Curve:
    last = int(np.argmax(speed[k] >= speed[k, -1])) + 1
    row = slice(0, last)

    def at(x: Array) -> Array:
        return np.ascontiguousarray(x[k, row])

    return Curve(
        speed=np.ascontiguousarray(speed[k, row]),
        force=at(found.rim_force),
        road=at(found.road_force),
        rim_power=at(found.rim_power),
        pack_power=at(found.pack_power),
        pack_current=at(found.pack_current),
        phase_current=at(found.phase_current),
        pack_voltage=at(found.pack_voltage),
        efficiency=at(found.efficiency),
        braking=at(braking),
        limits=tuple(limit_words(found.limited[k, j]) for j in range(last)),
        top=float(top.speed[k] / KMH),
        top_limits=top.limited_by[k],
        top_force=float(top.rim_force[k]),
        no_load=float(top.no_load_speed[k] / KMH),
        brakes=facts.brakes_above / KMH if facts.starts else math.nan,
        harms=facts.harms_above / KMH if facts.starts else math.nan,
        facts=facts,
    )


def limit_words(limited: NDArray[np.bool_]) -> tuple[str, ...]:
    """The words of what limits at one point."""
    return tuple(word for word, holds in zip(LIMIT_WORDS, limited, strict=True) if holds)
