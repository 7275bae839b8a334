"""The numbers a page shows: asks ``curves``, and remembers setup by setup what it answered.

Nothing is worked out here. A change of one pack asks again only for the setups that have it.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

from curves import Goals, Job, Pack, Rig
from curves.cautions import Caution, Fit, cautions, fit
from curves.parts.pack import cell_curve
from curves.setups.stack import stack
from curves.steady.envelope import batch_envelope
from curves.studies.helping import Line, own_line
from curves.studies.levers import tried
from curves.studies.sensitivity import sensitivity
from curves.studies.tops import Tops, tops
from curves.units import KMH, Units
from curves.words.sensitivity import measure_next
from curves.words.which_pack import Answer, which_pack
from dashboard.answers.curve import Array, Curve, draw, limit_words
from dashboard.answers.memory import Memory
from dashboard.state.session import Session, View, read_session

T = TypeVar("T")


@dataclass(frozen=True)
class Speeds:
    """A setup's speeds in km/h, NaN where it cannot start: full, nearly empty, on the hill.

    ``limits`` are the words of what limits with a full pack.
    """

    full: float
    nearly_empty: float
    hill: float | None
    limits: tuple[str, ...]


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


_memories = _curves, _speeds, _pinned, _cares, _other = tuple(Memory(512) for _ in range(5))


def forget() -> None:
    """Have everything worked out anew."""
    for memory in _memories:
        memory.forget()


def key_of(rig: Rig) -> tuple[str, ...]:
    """What tells a setup's numbers from another's: everything but its name."""
    parts = (rig.motor, rig.controller, rig.pack, rig.tune, rig.bike, rig.conditions)
    state = f"{rig.state_of_charge!r} {rig.winding_c!r} {rig.magnet_c!r}"
    return (*(part.model_dump_json(exclude_unset=True) for part in parts), state)


def curves_of(rigs: Sequence[Rig]) -> list[Curve]:
    """Every setup over road speed."""
    return _curves.each([key_of(r) for r in rigs], lambda at: draw([rigs[k] for k in at]))


def prepare(session: Session) -> None:
    """Begin with curves that a page is about to ask for."""
    threading.Thread(target=compare, args=(session,), daemon=True).start()


def speeds_of(rigs: Sequence[Rig], grade: float | None) -> list[Speeds]:
    """Every setup's speeds: full, nearly empty, and held on a grade in percent."""

    def make(at: list[int]) -> list[Speeds]:
        found = tops([rigs[k] for k in at], grade)
        return [
            Speeds(full / KMH, empty / KMH, None if grade is None else hill / KMH, words)
            for full, empty, hill, words in zip(
                *(speeds.tolist() for speeds in found[:3]), found.words, strict=True
            )
        ]

    return _speeds.each([(*key_of(r), grade) for r in rigs], make)


def road_forces(rigs: Sequence[Rig], speed_kmh: Array) -> Array:
    """Road load, N, shape (setups, speeds), each on the slope of its own conditions."""
    return np.asarray(stack(rigs).road().force(speed_kmh[:, None] * KMH)).T


def pinned_of(rigs: Sequence[Rig], speeds_kmh: tuple[float, ...]) -> list[tuple[Pinned, ...]]:
    """Every setup at the pinned speeds."""

    def make(at: list[int]) -> list[tuple[Pinned, ...]]:
        some = [rigs[k] for k in at]
        speeds = np.array(speeds_kmh) * KMH
        found = batch_envelope(stack(some).batch(), ("",) * len(some), speeds)
        return [
            tuple(
                Pinned(float(found.rim_force[k, j]), limit_words(found.limited[k, j]))
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

    def make(_: list[int]) -> list[Answer]:
        speeds = speeds_of(rigs, goals.hill_percent)
        by_kind = ([s.full for s in speeds], [s.nearly_empty for s in speeds],
                   [math.nan if s.hill is None else s.hill for s in speeds])  # fmt: skip
        full, empty, hill = (np.array(kind) * KMH for kind in by_kind)
        known = Tops(full, empty, hill, tuple(s.limits for s in speeds))
        return [which_pack(rigs, goals, units=units, known=known, line_of=_line_of)]

    return _other.each([key], make)[0]


def _line_of(rig: Rig) -> Line:
    return remembered("line over cells", [rig], own_line)[0]


def measure_next_of(rigs: Sequence[Rig], units: Units) -> list[str | None]:
    """The input of every setup that leaves its top speed the most open, in a sentence each."""
    found = remembered_together("sensitivity", rigs, sensitivity)
    return [measure_next(one, units=units) for one in found]


def gained_of(rigs: Sequence[Rig], units: Units) -> list[dict[str, float]]:
    """Top speed that each lever buys every setup, as ``levers.tried`` gives it."""
    # The steps are round in the unit of mass that is read.
    kind = f"gained {units.name('kg')}"
    return remembered_together(kind, rigs, lambda some: tried(some, units))


def nominal_v(pack: Pack) -> float:
    """Volts a pack is named by: its cells' nominal voltage times their count."""
    if pack.cell is None or pack.series is None:
        return pack.open_circuit(1.0)
    return pack.series * cell_curve(pack.cell).nominal_v


def remembered(kind: Hashable, rigs: Sequence[Rig], make: Callable[[Rig], T]) -> list[T]:
    """Any other answer about a setup alone, remembered under a kind that names all else asked."""
    return _other.each([(*key_of(r), kind) for r in rigs], lambda at: [make(rigs[k]) for k in at])


def remembered_together(
    kind: Hashable, rigs: Sequence[Rig], make: Callable[[Sequence[Rig]], Sequence[T]]
) -> list[T]:
    """As ``remembered``, for answers that are quicker found for many setups at once."""
    return _other.each([(*key_of(r), kind) for r in rigs], lambda at: make([rigs[k] for k in at]))


def known(kind: Hashable, rigs: Sequence[Rig]) -> list[Any] | None:
    """What is remembered of some setups, or None if any of it has still to be worked out."""
    return _other.recall([(*key_of(r), kind) for r in rigs])


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
    """All setups of a session that its page has, with their curves."""

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
    """Curves of every setup of a session that its page has."""
    every = dict(zip(session.slots, session.job.rigs(), strict=True))
    rigs = [every[slot] for slot in session.listed]
    return Comparison(
        session,
        tuple(
            Reading(slot, rig.name, slot not in session.hidden, rig, curve)
            for slot, rig, curve in zip(session.listed, rigs, curves_of(rigs), strict=True)
        ),
    )


def read(session: Any, view: Any) -> tuple[Comparison, View]:
    """What the browser keeps, as the builders want it."""
    return compare(read_session(session)), View.parse(view)
