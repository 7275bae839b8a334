"""Does it fit: ratings in the job against what the setup asks, with each reason and its number."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

from curves.cautions.facts import Facts, survey
from curves.cautions.hand_over import empty_v, least_cutoff_v
from curves.cautions.stuck import why_stuck
from curves.cautions.wording import given, number, rated, speed, volts
from curves.parts.rig import Rig
from curves.parts.tune import basis_factor
from curves.units import AS_WRITTEN, RPM, Units

Verdict: TypeAlias = Literal["fits", "fits with changes", "does not fit"]
Status: TypeAlias = Literal["breaks", "change", "not checked", "holds"]
ORDER: tuple[Status, ...] = ("breaks", "change", "not checked", "holds")

NO_RATING = "no rating given"
CURVE = 2.5e-4
"""A cell curve is good to 1 mV in 4.2 V; a full pack is not above a rating by less than that."""


@dataclass(frozen=True)
class Reason:
    """One comparison of a rating with what is asked of it.

    Attributes:
        key: short name of the comparison, the same in every setup.
        status: ``breaks`` (another part is needed), ``change`` (a setting cures it), ``holds``, or
            ``not checked``.
        text: a sentence with its numbers.
        value: what is asked, in ``unit``; None where it was not checked.
        limit: the rating, in ``unit``; None where there is none.
        unit: of both.
        source: where the rating came from.
    """

    key: str
    status: Status
    text: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    source: str = ""


@dataclass(frozen=True)
class Fit:
    """Whether the parts of a setup go together.

    Attributes:
        verdict: the worst of the reasons in words.
        reasons: every comparison, the worst first.
        plausible: a sentence that makes a misread Kv or current show.
    """

    verdict: Verdict
    reasons: tuple[Reason, ...]
    plausible: str

    @property
    def against(self) -> tuple[Reason, ...]:
        """The reasons that speak against it."""
        return tuple(r for r in self.reasons if r.status in ("breaks", "change"))

    @property
    def unchecked(self) -> tuple[Reason, ...]:
        """What could not be compared for want of a rating."""
        return tuple(r for r in self.reasons if r.status == "not checked")


def fit(rig: Rig, facts: Facts | None = None, *, units: Units = AS_WRITTEN) -> Fit:
    """Compare every rating of a setup with what is asked of it.

    Args:
        rig: the setup with its parts.
        facts: what it asks, as ``survey`` gives it; computed here if left out.
        units: for the sentences.
    """
    f = survey([rig])[0] if facts is None else facts
    found = [
        *_start(rig, f),
        *_volts(rig, f),
        *_phase(rig),
        *_pack_current(rig, f),
        *_electrical_speed(rig, f, units),
        *_rotor_speed(rig, f, units),
        *_cutoffs(rig, f),
    ]
    found.sort(key=lambda reason: ORDER.index(reason.status))
    worst = found[0].status
    verdict: Verdict = "fits"
    if worst == "breaks":
        verdict = "does not fit"
    elif worst == "change":
        verdict = "fits with changes"
    return Fit(verdict, tuple(found), plausible(rig, f, units))


def _start(rig: Rig, f: Facts) -> Iterator[Reason]:
    """Parts that cannot move the bike fit nothing, whatever their ratings."""
    if said := why_stuck(rig, f):
        force = None if math.isnan(f.rest_force) else f.rest_force
        yield Reason("start", "breaks", said, f.rest_load, force, "N")


def _volts(rig: Rig, f: Facts) -> Iterator[Reason]:
    limit = rig.controller.max_input_v
    if limit is None:
        yield _unrated("controller-volts", "controller's input voltage", "V")
        return
    full = f"The pack has {volts(f.full_v)} when full, the controller takes {volts(limit)}"
    over = f.full_v > limit * (1 + CURVE)
    yield Reason(
        "controller-volts",
        "breaks" if over else "holds",
        f"{full}: fewer cells, or a controller for more volts." if over else f"{full}.",
        f.full_v,
        limit,
        "V",
        rated("controller", rig.controller, "max_input_v"),
    )


def _phase(rig: Rig) -> Iterator[Reason]:
    limit, asked = rig.controller.max_phase_current_a, rig.tune.phase_current_a
    if limit is None:
        yield _unrated("controller-phase", "controller's phase current", "A")
        return
    basis = rig.tune.current_basis
    said = f"The tune asks for {given(asked)} A {basis} a phase, the controller is rated"
    over = asked > limit
    cure = f": set {given(limit)} A, more than that it cannot give" if over else ""
    yield Reason(
        "controller-phase",
        "change" if over else "holds",
        f"{said} {given(limit)} A {basis}{cure}.",
        asked,
        limit,
        f"A {basis}",
        rated("controller", rig.controller, "max_phase_current_a"),
    )


def _pack_current(rig: Rig, f: Facts) -> Iterator[Reason]:
    yield from _amperes(rig, f, "controller", "max_pack_current_a", "controller's pack current")
    yield from _amperes(rig, f, "pack", "peak_current_a", "pack's (and its BMS's) peak current")


def _amperes(rig: Rig, f: Facts, kind: str, field: str, what: str) -> Iterator[Reason]:
    part = rig.controller if kind == "controller" else rig.pack
    limit: float | None = getattr(part, field)
    key = f"{kind}-current"
    if limit is None:
        yield _unrated(key, what, "A")
        return
    # A motor too small to draw what the tune allows does not strain the rating.
    drawn = f.pack_a >= limit * (1 - 1e-6)
    asked = f.asked_pack_a if math.isfinite(f.asked_pack_a) else f.pack_a
    over = asked > limit * (1 + 1e-9) or (drawn and math.isinf(f.asked_pack_a))
    if over and math.isinf(f.asked_pack_a):
        text = f"The tune sets no pack current: only the {what} of {given(limit)} A limits it"
    else:
        text = f"The tune may draw {number(asked)} A, the {what} is {given(limit)} A"
    cure = f": set the tune's pack current to {given(limit)} A or less" if over else ""
    source = rated(kind, part, field)
    yield Reason(key, "change" if over else "holds", f"{text}{cure}.", asked, limit, "A", source)


def _electrical_speed(rig: Rig, f: Facts, units: Units) -> Iterator[Reason]:
    limit = rig.controller.max_electrical_rpm
    if limit is None:
        yield _unrated("electrical-speed", "controller's electrical speed", "rpm")
        return
    source = rated("controller", rig.controller, "max_electrical_rpm")
    per_rotor = f.pole_pairs / RPM
    places = (("top", f.top_rotor_speed, "At top speed"), ("no-load", f.no_load_rotor_speed, OFF))
    for key, rotor, where in places:
        yield _ceiling(
            f"electrical-speed-{key}",
            f"{where} the motor turns at {{}} electrical rpm, the controller follows to {{}}",
            rotor * per_rotor if f.starts else math.nan,
            limit,
            limit / per_rotor / f.rotor_per_road,
            source,
            units,
        )


OFF = "With the wheel off the ground"


def _rotor_speed(rig: Rig, f: Facts, units: Units) -> Iterator[Reason]:
    limit = rig.motor.max_rpm
    if limit is None:
        yield _unrated("rotor-speed", "motor's speed", "rpm")
        return
    yield _ceiling(
        "rotor-speed",
        f"{OFF} the rotor turns at {{}} rpm, the motor is allowed {{}}",
        f.no_load_rotor_speed / RPM if f.starts else math.nan,
        limit,
        limit * RPM / f.rotor_per_road,
        rated("motor", rig.motor, "max_rpm"),
        units,
    )


def _ceiling(
    key: str, text: str, rpm: float, limit: float, road: float, source: str, units: Units
) -> Reason:
    """A speed against its ceiling; one that is reached counts, for the drive was held there."""
    if math.isnan(rpm):
        return Reason(key, "not checked", "It does not start: its speed was not checked.")
    over = rpm >= limit * (1 - 1e-9)
    cure = (
        f": set a speed cap of {math.floor(units.speed(road))} {units.name('km/h')} or less"
        if over
        else ""
    )
    if math.isinf(rpm):
        said = "With the wheel off the ground nothing holds the motor, field weakening drives it on"
        return Reason(key, "change", f"{said}{cure}.", None, limit, "rpm", source)
    said = text.format(number(rpm), given(limit))
    return Reason(key, "change" if over else "holds", f"{said}{cure}.", rpm, limit, "rpm", source)


def _cutoffs(rig: Rig, f: Facts) -> Iterator[Reason]:
    tune, bms = rig.tune.low_voltage_cutoff_v, rig.pack.bms_cutoff_v
    for key, at, status, whose in (
        ("cutoff-below-full", tune, "change", "tune's"),
        ("bms-below-full", bms, "breaks", "BMS's"),
    ):
        if at is None:
            continue
        over = at >= f.full_v
        said = f"The {whose} cut-off of {volts(at)} is"
        end = "not below" if over else "below"
        yield Reason(
            key,
            ("change" if status == "change" else "breaks") if over else "holds",
            f"{said} {end} the {volts(f.full_v)} of a full pack"
            + (": it never drives." if over else "."),
            at,
            f.full_v,
            "V",
        )
    yield _order(rig)
    yield from _foldback(rig, f)


def _order(rig: Rig) -> Reason:
    tune, bms = rig.tune.low_voltage_cutoff_v, rig.pack.bms_cutoff_v
    own = max(tune or 0.0, rig.controller.foldback_end_v or 0.0)
    if bms is None:
        return _unrated("cutoff-order", "BMS's cut-off", "V")
    source = rated("pack", rig.pack, "bms_cutoff_v")
    if own >= bms:
        text = f"The controller stops at {volts(own)}, before the BMS opens at {volts(bms)}."
        return Reason("cutoff-order", "holds", text, own, bms, "V", source)
    earlier = (
        f"before the controller's own cut-off of {volts(own)}"
        if own
        else "and the controller has no cut-off of its own"
    )
    right = volts(least_cutoff_v(rig))
    cells = ", where its cells are empty: the BMS's is too low" if bms < empty_v(rig) else ""
    text = (
        f"The BMS opens at {volts(bms)}, {earlier}: power goes without warning, and nothing is "
        f"left to take the back-EMF. Set the tune's cut-off to {right} or a little more{cells}."
    )
    return Reason("cutoff-order", "change", text, own, bms, "V", source)


def _foldback(rig: Rig, f: Facts) -> Iterator[Reason]:
    start, end = rig.controller.foldback_start_v, rig.controller.foldback_end_v
    if start is None or end is None:
        return
    cutoff = f.cutoff_v
    said = f"Pack current is folded back from {volts(start)} to {volts(end)}"
    status: Status = "change"
    if end >= f.full_v:
        text = f"{said}, above the {volts(f.full_v)} of a full pack: it never drives."
    elif start >= f.full_v:
        text = f"{said}: even a full pack of {volts(f.full_v)} is folded back."
    elif start <= cutoff:
        text = f"{said}, which the cut-off at {volts(cutoff)} forestalls."
    else:
        status, text = "holds", f"{said}, between a full pack and its cut-off."
    source = rated("controller", rig.controller, "foldback_start_v")
    yield Reason("foldback", status, text, start, f.full_v, "V", source)


def _unrated(key: str, what: str, unit: str) -> Reason:
    return Reason(key, "not checked", f"The {what} was not checked: {NO_RATING}.", unit=unit)


def plausible(rig: Rig, f: Facts, units: Units = AS_WRITTEN) -> str:
    """What the motor's Kv means on the stand, so that one misread by √2 or √3 shows.

    Kv here is rpm per volt of peak line-to-line back-EMF; taken per rms volt it comes out √2 too
    high, per volt of one phase √3 (common practice: both mistakes are frequent).
    """
    usable = f.full_v * rig.controller.max_modulation
    rotor = rig.motor.kv_rpm_per_v * usable * RPM
    road = rotor / f.rotor_per_road
    root = [speed(road / math.sqrt(k), units) for k in (2, 3)]
    basis = rig.tune.current_basis
    amperes = rig.tune.phase_current_a * basis_factor(basis)
    return (
        f"This Kv means about {speed(road, units)} with the wheel off the ground at "
        f"{volts(f.full_v)}, without field weakening; is that so? If it is nearer {root[0]}, Kv "
        f"was taken per rms volt; nearer {root[1]}, per volt of one phase. The phase current of "
        f"{number(amperes)} A peak is {number(amperes / math.sqrt(2))} A rms: see which of the two "
        "the controller counts."
    )
