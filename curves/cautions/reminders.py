"""What the class of vehicle limits, what could not be checked, and what to look after."""

from __future__ import annotations

import math
from collections.abc import Iterator

from curves.cautions.caution import PRACTICE, Caution
from curves.cautions.facts import Facts
from curves.cautions.fit import NO_RATING
from curves.cautions.law import CLASSES, DEFER, PACK_STANDARDS, RoadClass
from curves.cautions.wording import given, number, speed, volts
from curves.parts.pack import cell_curve
from curves.parts.rig import Rig
from curves.units import Units


def vehicle_class(rig: Rig, f: Facts, chosen: str | None, units: Units) -> Iterator[Caution]:
    """Speed, power and rated volts against the class the user chose; none is assumed."""
    if chosen is None:
        yield Caution(
            "class",
            "reminder",
            "no class of vehicle chosen",
            "What speed, power and voltage are allowed depends on the class and the country; none "
            f"was chosen, so none was checked. {DEFER}",
            source="; ".join(sorted({kind.source for kind in CLASSES.values()})),
        )
        return
    kind = CLASSES[chosen]
    if f.top_speed > kind.speed * (1 + 1e-3):
        yield Caution(
            "class-speed",
            "warning",
            "faster than its class",
            f"Top speed is {speed(f.top_speed, units)}; for {kind.title} the motor's help ends at "
            f"{speed(kind.speed, units)}. {DEFER}",
            units.speed(f.top_speed),
            units.speed(kind.speed),
            units.name("km/h"),
            kind.source,
        )
    if f.shaft_power > kind.power * (1 + 1e-3):
        yield Caution(
            "class-power",
            "warning",
            "more power than its class",
            f"The motor gives up to {number(f.shaft_power)} W; {kind.title} are limited to "
            f"{given(kind.power)} W ({kind.counts}, which is not the same as the most it gives). "
            f"{DEFER}",
            f.shaft_power,
            kind.power,
            "W",
            kind.source,
        )
    yield from _class_volts(rig, kind)


def _class_volts(rig: Rig, kind: RoadClass) -> Iterator[Caution]:
    cell, limit = rig.pack.cell, kind.rated_v
    if cell is None or limit is None:
        return
    nominal = (rig.pack.series or 1) * cell_curve(cell).nominal_v
    if nominal > limit:
        yield Caution(
            "class-volts",
            "warning",
            "more volts than its class",
            f"{rig.pack.series} cells are {volts(nominal)} nominal; {kind.title} are limited to "
            f"{volts(limit)} rated. {DEFER}",
            nominal,
            limit,
            "V",
            kind.source,
        )


RATINGS = (
    ("controller", "max_input_v", "controller's input voltage"),
    ("controller", "max_phase_current_a", "controller's phase current"),
    ("controller", "max_pack_current_a", "controller's pack current"),
    ("controller", "max_electrical_rpm", "controller's electrical speed"),
    ("pack", "continuous_current_a", "pack's continuous current"),
    ("pack", "peak_current_a", "pack's peak current"),
    ("pack", "bms_cutoff_v", "BMS's cut-off"),
    ("motor", "max_rpm", "motor's speed"),
    ("motor", "winding_limit_c", "winding's temperature"),
    ("motor", "magnet_limit_c", "magnets' temperature"),
    ("motor", "valid_to_phase_current_a", "current to which saturation may be neglected"),
)


def unrated(rig: Rig) -> Iterator[Caution]:
    """Which ratings the job does not give, so that nothing was held against them."""
    absent = [what for kind, field, what in RATINGS if getattr(getattr(rig, kind), field) is None]
    if rig.motor.torque_derating is not None:
        absent = [what for what in absent if "saturation" not in what]
    if not absent:
        return
    yield Caution(
        "unrated",
        "notice",
        f"{len(absent)} not checked",
        f"Not checked, {NO_RATING}: {', '.join(absent)}.",
        source="the job gives no such rating",
    )


def reminders(rig: Rig, f: Facts, units: Units) -> Iterator[Caution]:
    """What every such bike needs looking after: brakes, tyres, axle, pack."""
    if not math.isnan(f.top_speed):
        mass = f"{number(units.shown(f.mass, 'kg'))} {units.name('kg')}"
        energy = 0.5 * f.mass * f.top_speed**2 / 1000
        yield Caution(
            "brakes",
            "reminder",
            "brakes and tyres",
            f"At {speed(f.top_speed, units)} the brakes have {number(energy)} kJ to take from "
            f"{mass}, and the tyres must be made for that speed and load: check both.",
            energy,
            unit="kJ",
            source=f"derived: half of mass times speed squared; {PRACTICE}",
        )
    in_hub = rig.bike.gear_ratios is None and rig.bike.final_drive_ratio in (None, 1.0)
    if in_hub and f.wheel_torque > 0:
        torque = units.shown(f.wheel_torque, "N·m")
        both = " and, braking, backwards" if rig.tune.regen_pack_current_a > 0 else ""
        if f.off_brake_force > 0:
            back = units.shown(f.off_brake_force * rig.bike.roll_out_m / math.tau, "N·m")
            both += (
                f", and {number(back)} {units.name('N·m')} backwards if the drive stops at speed"
            )
        yield Caution(
            "torque-arms",
            "reminder",
            "torque on the axle",
            f"A hub motor's axle has to be held against {number(torque)} {units.name('N·m')} "
            f"forwards{both}: check dropouts and torque arms, in both directions.",
            torque,
            unit=units.name("N·m"),
            source=PRACTICE,
        )
    yield Caution(
        "pack-standards",
        "reminder",
        "the pack itself",
        f"A lithium pack can burn: ask for its tests ({PACK_STANDARDS}) and have qualified people "
        "build or change one.",
        source=PACK_STANDARDS,
    )
