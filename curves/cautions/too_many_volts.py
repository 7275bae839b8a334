"""Volts that hurt: a full pack's, and the back-EMF when the drive stops."""

from __future__ import annotations

import math
from collections.abc import Iterator

from curves.cautions.caution import MODEL, PRACTICE, Caution
from curves.cautions.facts import Facts
from curves.cautions.fit import CURVE
from curves.cautions.law import TOUCH_SOURCE, TOUCH_V
from curves.cautions.wording import celsius, number, rated, speed, volts
from curves.parts.rig import Rig
from curves.point.drive_off import DIODE_V
from curves.units import Units

AT_TOP = "at top speed"
ASKED = "without being asked and charges the pack"


def full_pack(rig: Rig, f: Facts) -> Iterator[Caution]:
    """A full pack against the controller's rating and against touch."""
    limit = rig.controller.max_input_v
    if limit is not None and f.full_v > limit * (1 + CURVE):
        yield Caution(
            "controller-volts",
            "danger",
            "full pack above the controller's volts",
            f"A full pack has {volts(f.full_v)}, the controller is rated {volts(limit)}: it can "
            "fail at once, even at rest.",
            f.full_v,
            limit,
            "V",
            rated("controller", rig.controller, "max_input_v"),
        )
    if f.full_v > TOUCH_V:
        yield Caution(
            "touch-voltage",
            "warning",
            "above 60 V DC",
            f"A full pack has {volts(f.full_v)}. Above 60 V DC touch can injure, and other rules "
            "for insulation and protection hold: have it built and checked by qualified people.",
            f.full_v,
            TOUCH_V,
            "V",
            TOUCH_SOURCE,
        )


def drive_off(rig: Rig, f: Facts, units: Units) -> Iterator[Caution]:
    """Back-EMF when the controller stops switching: against its rating, then against the pack."""
    places = [(f.top_emf, AT_TOP), (f.no_load_emf, "with the wheel off the ground")]
    places = [(emf, where) for emf, where in places if math.isfinite(emf)]
    if not places:
        return
    cold = f"magnets at {celsius(f.coldest_c, units)}"
    limit = rig.controller.max_input_v
    over = [place for place in places if limit is not None and place[0] > limit]
    if over and limit is not None:
        emf, where = over[0]
        yield Caution(
            "drive-off-controller",
            "danger" if where == AT_TOP else "warning",
            "back-EMF above the controller's volts",
            f"If the drive stops {where}, the motor makes {volts(emf)} ({cold}). The pack holds it "
            f"down only while it is connected and takes charge; else the controller, rated "
            f"{volts(limit)}, can be destroyed.{_below(f, units)}",
            emf,
            limit,
            "V",
            rated("controller", rig.controller, "max_input_v"),
        )
    # Behind a freewheel only the rotor is braked, which nobody notices; what cannot start has no
    # speed at which to brake.
    if f.starts and not rig.motor.overrunning_clutch:
        yield from _braking(f, places, cold, units)


def _below(f: Facts, units: Units) -> str:
    """Up to what speed all is well, of a setup that reaches any."""
    if not f.starts:
        return ""
    return f" Below about {speed(f.harms_above, units)} the back-EMF stays under that."


def _braking(
    f: Facts, places: list[tuple[float, str]], cold: str, units: Units
) -> Iterator[Caution]:
    """Braking through the diodes: from the pack's volts on, and with much saliency below them."""
    clamp = f.rest_v + 2 * DIODE_V
    source = f"{MODEL}; diode drops: {PRACTICE}"
    if f.off_charging_a > 0 and f.top_emf <= clamp:
        yield Caution(
            "drive-off-pack",
            "warning",
            "may brake itself if the drive stops",
            f"If the drive stops {AT_TOP} while it weakens the field, the motor may go on braking "
            f"{_how(f)}, though its {volts(f.top_emf)} ({cold}) are below the pack's "
            f"{volts(f.rest_v)}: its inductance q is more than twice d.",
            f.top_emf,
            clamp,
            "V",
            source,
        )
        return
    for emf, where in [place for place in places if place[0] > clamp][:1]:
        at_top = where == AT_TOP
        yield Caution(
            "drive-off-pack",
            "warning" if at_top else "notice",
            "brakes itself if the drive stops",
            f"If the drive stops {where}, the motor makes {volts(emf)} ({cold}), more than the "
            f"pack's {volts(f.rest_v)} and two diodes: it brakes "
            f"{_how(f) if at_top else ASKED}. Below about {speed(f.brakes_above, units)} it does "
            "not.",
            emf,
            clamp,
            "V",
            source,
        )


def _how(f: Facts) -> str:
    """How hard it brakes and charges at top speed, an estimate of the most."""
    force, amperes = number(f.off_brake_force, 2), number(f.off_charging_a, 2)
    return f"{ASKED}, with up to {force} N at the rim and {amperes} A"
