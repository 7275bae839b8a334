"""Current that heats or misleads: the pack's, the field weakening, saturation; and heat itself."""

from __future__ import annotations

import math
from collections.abc import Iterator

from curves.cautions.caution import MODEL, Caution, Warmth
from curves.cautions.facts import Facts
from curves.cautions.hand_over import NEAR_EMPTY, empty_v
from curves.cautions.wording import celsius, given, number, rated, volts
from curves.parts.pack import cell_curve
from curves.parts.rig import Rig
from curves.units import Units


def pack_current(rig: Rig, f: Facts) -> Iterator[Caution]:
    """What the tune may draw against the pack's peak and continuous current."""
    peak, steady = rig.pack.peak_current_a, rig.pack.continuous_current_a
    asked = f.asked_pack_a if math.isfinite(f.asked_pack_a) else f.pack_a
    unbound = math.isinf(f.asked_pack_a) and peak is not None and f.pack_a >= peak * (1 - 1e-6)
    if peak is not None and (asked > peak * (1 + 1e-9) or unbound):
        allows = f"{number(asked)} A" if math.isfinite(f.asked_pack_a) else "any pack current"
        yield Caution(
            "pack-peak",
            "warning",
            "tune above the pack's peak current",
            f"The tune allows {allows}, the pack {given(peak)} A at its peak: its BMS may switch "
            f"off on the move. Results here stay at {given(peak)} A.",
            asked,
            peak,
            "A",
            rated("pack", rig.pack, "peak_current_a"),
        )
    if steady is None:
        return
    source = rated("pack", rig.pack, "continuous_current_a")
    if f.steady_pack_a > steady * (1 + 1e-9):
        yield Caution(
            "pack-continuous",
            "warning",
            "above the pack's continuous current",
            f"Top speed takes {number(f.steady_pack_a)} A for as long as it is held, the pack "
            f"is rated {given(steady)} A continuous: it overheats and ages.",
            f.steady_pack_a,
            steady,
            "A",
            source,
        )
    elif f.pack_a > steady * (1 + 1e-9):
        yield Caution(
            "pack-continuous",
            "notice",
            "pack above its continuous current for a while",
            f"Under full throttle it draws up to {number(f.pack_a)} A, above the pack's "
            f"{given(steady)} A continuous: for short pulls only.",
            f.pack_a,
            steady,
            "A",
            source,
        )


def pack_low(rig: Rig, f: Facts) -> Iterator[Caution]:
    """A pack at its cut-off, and a cut-off too low for its cells."""
    if 0 < f.rest_v <= f.cutoff_v < f.full_v:
        yield Caution(
            "empty",
            "notice",
            "at its cut-off already",
            f"At this charge the pack rests at {volts(f.rest_v)}, its cut-off is "
            f"{volts(f.cutoff_v)}: it does not drive.",
            f.rest_v,
            f.cutoff_v,
            "V",
            MODEL,
        )
    if rig.pack.cell is not None and f.cutoff_v > 0:
        empty = empty_v(rig)
        if f.cutoff_v < empty * (1 - NEAR_EMPTY):
            yield Caution(
                "deep-discharge",
                "warning",
                "cut-off below empty cells",
                f"The cut-off of {volts(f.cutoff_v)} is below the {volts(empty)} of empty cells "
                "at rest: they can be drawn too low, which ruins them.",
                f.cutoff_v,
                empty,
                "V",
                f"cell curve: {cell_curve(rig.pack.cell).title}",
            )


def weakening(rig: Rig, f: Facts) -> Iterator[Caution]:
    """Field weakening past the characteristic current."""
    if rig.tune.field_weakening_a > 0 and f.weakening_a > f.characteristic_a:
        yield Caution(
            "characteristic-current",
            "warning",
            "weakens past what pays",
            f"The tune may weaken the field with {number(f.weakening_a)} A peak. Past "
            f"{number(f.characteristic_a)} A (flux over inductance) more of it only heats, and "
            "the magnets can be demagnetised, which is not modelled.",
            f.weakening_a,
            f.characteristic_a,
            "A peak",
            MODEL,
        )


def saturation(rig: Rig, f: Facts) -> Iterator[Caution]:
    """Phase current beyond what the motor's figures are good for."""
    valid, table = rig.motor.valid_to_phase_current_a, rig.motor.torque_derating
    if valid is not None and f.phase_a > valid * (1 + 1e-9) and table is None:
        yield Caution(
            "saturation",
            "notice",
            "torque overstated by saturation",
            f"It draws up to {number(f.phase_a)} A peak a phase; the motor's figures hold to "
            f"{given(valid)} A. Beyond, iron saturates and torque is less than shown.",
            f.phase_a,
            valid,
            "A peak",
            rated("motor", rig.motor, "valid_to_phase_current_a"),
        )
    elif table is not None and f.phase_a > table[-1][0] * (1 + 1e-9):
        yield Caution(
            "saturation",
            "notice",
            "saturation not measured so far",
            f"It draws up to {number(f.phase_a)} A peak a phase; saturation was measured to "
            f"{given(table[-1][0])} A. Beyond, torque is less sure.",
            f.phase_a,
            table[-1][0],
            "A peak",
            rated("motor", rig.motor, "torque_derating"),
        )


def temperatures(rig: Rig, warmth: Warmth, units: Units) -> Iterator[Caution]:
    """Winding and magnets, as asked and as they settle, against their limits."""
    motor = rig.motor
    for key, limit, asked, settled, harm in (
        ("winding", motor.winding_limit_c, rig.winding_c, warmth.winding_c, "insulation fails"),
        ("magnet", motor.magnet_limit_c, rig.magnet_c, warmth.magnet_c, "magnets weaken for good"),
    ):
        if limit is None:
            continue
        source = rated("motor", motor, f"{key}_limit_c")
        if settled > limit:
            ends = math.isfinite(settled)
            where = f"settles at {celsius(round(settled), units)}" if ends else "does not settle"
            yield Caution(
                f"{key}-settled",
                "warning",
                f"{key} too hot if it goes on",
                f"Held long enough the {key} {where}, the "
                f"limit is {celsius(limit, units)}: past it {harm}.",
                float(units.shown(settled, "°C")) if ends else None,
                units.shown(limit, "°C"),
                units.name("°C"),
                source,
            )
        if asked > limit:
            yield Caution(
                f"{key}-asked",
                "warning",
                f"{key} asked above its limit",
                f"The setup is asked with its {key} at {celsius(asked, units)}, the limit is "
                f"{celsius(limit, units)}: past it {harm}.",
                units.shown(asked, "°C"),
                units.shown(limit, "°C"),
                units.name("°C"),
                source,
            )
