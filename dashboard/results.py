"""The numbers a page shows: asks ``curves``, and remembers setup by setup what it answered.

Nothing is worked out here. A change of one pack asks again only for the setups that have it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from curves import Goals, Job, Pack, Rig
from curves.answer import NEARLY_EMPTY, Answer, which_pack
from curves.balance import TopSpeed, balance_speed, batch_top_speed
from curves.cautions import Caution, Facts, Fit, cautions, fit, survey
from curves.envelope import LIMIT_WORDS, batch_envelope, no_load_speed
from curves.envelope_braking import batch_braking
from curves.parts.pack import cell_curve
from curves.span import line_end
from curves.stack import stack
from curves.studies.levers import measure_next
from curves.studies.sensitivity import sensitivity
from curves.units import KMH, Units
from dashboard.memory import Memory
from dashboard.state import Session

Array = NDArray[np.float64]
T = TypeVar("T")

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
        gain: km/h per unit more of each input, as in ``TopSpeed.gain``.
        no_load: No-load speed, km/h, NaN for none.
        brakes: Speed above which it brakes itself if the drive goes off, km/h, NaN for none.
        harms: Speed above which the back-EMF can harm the controller, km/h, NaN for none.
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
    gain: dict[str, float]
    no_load: float
    brakes: float
    harms: float
    facts: Facts

    @property
    def end(self) -> float:
        """Speed at which the line ends, km/h."""
        return float(self.speed[-1])


@dataclass(frozen=True)
class Speeds:
    """A setup's speeds in km/h, NaN where it cannot start: full, nearly empty, on the hill."""

    full: float
    nearly_empty: float
    hill: float | None


@dataclass(frozen=True)
class Pinned:
    """A setup at a pinned speed: rim force, N, NaN where not driven, and what limits it."""

    force: float
    limits: tuple[str, ...]


@dataclass(frozen=True)
class Care:
    """Whether a setup fits together, and what to know before riding it, the worst first."""

    fit: Fit
    cautions: tuple[Caution, ...]


_drawing = threading.Lock()
_curves, _speeds, _pinned, _cares, _other = (Memory(512) for _ in range(5))


def key_of(rig: Rig) -> tuple[str, ...]:
    """What tells a setup's numbers from another's: everything but its name."""
    parts = (rig.motor, rig.controller, rig.pack, rig.tune, rig.bike, rig.conditions)
    state = f"{rig.state_of_charge!r} {rig.winding_c!r} {rig.magnet_c!r}"
    return (*(part.model_dump_json(exclude_unset=True) for part in parts), state)


def curves_of(rigs: Sequence[Rig]) -> list[Curve]:
    """Every setup over road speed."""
    # One at a time: what is asked twice is found the second time.
    with _drawing:
        return _curves.each([key_of(r) for r in rigs], lambda at: _draw([rigs[k] for k in at]))


def prepare(session: Session) -> None:
    """Begin with curves that a page is about to ask for; nothing where others are under way."""
    if not _drawing.locked():
        threading.Thread(target=compare, args=(session,), daemon=True).start()


def speeds_of(rigs: Sequence[Rig], grade: float | None) -> list[Speeds]:
    """Every setup's speeds: full, nearly empty, and held on a grade in percent."""

    def make(at: list[int]) -> list[Speeds]:
        some = [rigs[k] for k in at]
        asked = [replace(r, state_of_charge=1.0) for r in some]
        asked += [replace(r, state_of_charge=NEARLY_EMPTY) for r in some]
        if grade is not None:
            asked += [on_grade(r, grade) for r in some]
        batch = stack(asked).batch()
        found = balance_speed(batch, no_load_speed(batch)).speed / KMH
        full, empty, *hill = found.reshape(-1, len(some))
        held = hill[0] if hill else [None] * len(some)
        return [
            Speeds(float(f), float(e), None if h is None else float(h))
            for f, e, h in zip(full, empty, held, strict=True)
        ]

    return _speeds.each([(*key_of(r), grade) for r in rigs], make)


def on_grade(rig: Rig, grade: float) -> Rig:
    """The same setup on a slope in percent."""
    return replace(rig, conditions=rig.conditions.model_copy(update={"grade_percent": grade}))


def road_force(rig: Rig, grade: float, speed_kmh: Array) -> Array:
    """Road load of a setup on a slope in percent, N, at road speeds in km/h."""

    def make(_: list[int]) -> list[Array]:
        return [np.asarray(stack([on_grade(rig, grade)]).road().force(speed_kmh * KMH))]

    key = (*key_of(rig), "road", grade, speed_kmh.size, float(speed_kmh[-1]))
    return _other.each([key], make)[0]


def pinned_of(rigs: Sequence[Rig], speeds_kmh: tuple[float, ...]) -> list[tuple[Pinned, ...]]:
    """Every setup at the pinned speeds."""

    def make(at: list[int]) -> list[tuple[Pinned, ...]]:
        some = [rigs[k] for k in at]
        none = np.full(len(some), np.nan)
        # Only what holds at the speeds is asked: the ends of the line are not needed.
        found = batch_envelope(
            stack(some).batch(), ("",) * len(some), np.array(speeds_kmh) * KMH, (none, none)
        )
        return [
            tuple(
                Pinned(float(found.rim_force[k, j]), _words(found.limited[k, j]))
                for j in range(len(speeds_kmh))
            )
            for k in range(len(at))
        ]

    if not speeds_kmh:
        return [()] * len(rigs)
    return _pinned.each([(*key_of(r), speeds_kmh) for r in rigs], make)


def cares_of(rigs: Sequence[Rig], units: Units) -> list[Care]:
    """Fit and cautions of every setup, in the units a person reads."""

    def make(at: list[int]) -> list[Care]:
        some = [rigs[k] for k in at]
        return [
            Care(fit(rig, curve.facts, units=units), cautions(rig, curve.facts, units=units))
            for rig, curve in zip(some, curves_of(some), strict=True)
        ]

    return _cares.each([(*key_of(r), units) for r in rigs], make)


def answer_of(rigs: Sequence[Rig], goals: Goals, units: Units) -> Answer:
    """“Which pack?” in words."""
    names = tuple(rig.name for rig in rigs)
    key = (*(key_of(r) for r in rigs), names, goals.model_dump_json(), units)
    return _other.each([key], lambda _: [which_pack(rigs, goals, units=units)])[0]


def measure_next_of(rigs: Sequence[Rig], units: Units) -> list[str | None]:
    """The input of every setup that leaves its top speed the most open, in a sentence each."""
    found = remembered_together("sensitivity", rigs, sensitivity)
    return [measure_next(one, units=units) for one in found]


def nominal_v(pack: Pack) -> float:
    """Volts a pack is named by: its cells' nominal voltage times their count."""
    if pack.cell is None or pack.series is None:
        return pack.open_circuit(1.0)
    return pack.series * cell_curve(pack.cell).nominal_v


def remembered(kind: str, rigs: Sequence[Rig], make: Callable[[Rig], T]) -> list[T]:
    """Any other answer about a setup alone, remembered under a kind of its own."""
    return _other.each([(*key_of(r), kind) for r in rigs], lambda at: [make(rigs[k]) for k in at])


def remembered_together(
    kind: str, rigs: Sequence[Rig], make: Callable[[Sequence[Rig]], Sequence[T]]
) -> list[T]:
    """As ``remembered``, for answers that are quicker found for many setups at once."""
    return _other.each([(*key_of(r), kind) for r in rigs], lambda at: make([rigs[k] for k in at]))


def _draw(rigs: Sequence[Rig]) -> list[Curve]:
    batch = stack(rigs).batch()
    top = batch_top_speed(batch, tuple(rig.name for rig in rigs))
    speed = np.stack([_grid(e) for e in line_end(batch, top) / KMH])
    found = batch_envelope(batch, top.names, speed * KMH, (top.no_load_speed, top.base_speed))
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
    return np.minimum(even, end * (1 - 1e-9))


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
        limits=tuple(_words(found.limited[k, j]) for j in range(last)),
        top=float(top.speed[k] / KMH),
        top_limits=top.limited_by[k],
        top_force=float(top.rim_force[k]),
        gain={name: float(x[k]) for name, x in top.gain.items()},
        no_load=float(top.no_load_speed[k] / KMH),
        brakes=facts.brakes_above / KMH,
        harms=facts.harms_above / KMH,
        facts=facts,
    )


def _words(limited: NDArray[np.bool_]) -> tuple[str, ...]:
    return tuple(word for word, holds in zip(LIMIT_WORDS, limited, strict=True) if holds)


@dataclass(frozen=True)
class Reading:
    """A setup in hand: where it stands in the page, and its curve."""

    slot: int
    name: str
    shown: bool
    rig: Rig
    curve: Curve


@dataclass(frozen=True)
class Comparison:
    """All setups of a session with their curves."""

    session: Session
    readings: tuple[Reading, ...]

    @property
    def job(self) -> Job:
        """The job."""
        return self.session.job

    @property
    def shown(self) -> tuple[Reading, ...]:
        """The setups that are drawn."""
        return tuple(r for r in self.readings if r.shown)

    @property
    def reference(self) -> Reading | None:
        """The setup that differences are shown against."""
        return next((r for r in self.readings if r.slot == self.session.reference), None)


def compare(session: Session) -> Comparison:
    """Curves of every setup of a session."""
    rigs = session.job.rigs()
    return Comparison(
        session,
        tuple(
            Reading(slot, rig.name, slot not in session.hidden, rig, curve)
            for slot, rig, curve in zip(session.slots, rigs, curves_of(rigs), strict=True)
        ),
    )
