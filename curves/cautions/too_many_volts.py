"""Volts that hurt: a full pack's, and the back-EMF when the drive stops."""

from __future__ import annotations

import math
from collections.abc import Iterator

from curves.cautions.caution import MODEL, PRACTICE, Caution
from curves.cautions.facts import Facts
from curves.cautions.fit import CURVE
from curves.cautions.law import TOUCH_SOURCE, TOUCH_V
from curves.cautions.wording import SpeedUnit, given, rated, speed, volts
from curves.parts.rig import Rig

DIODE_DROPS_V = 1.4
"""Two silicon diodes in the way from motor to pack, about 0.7 V each (common practice)."""
AT_TOP = "at top speed"


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


def drive_off(rig: Rig, f: Facts, unit: SpeedUnit) -> Iterator[Caution]:
    """Back-EMF when the controller stops switching: against its rating, then against the pack."""
    places = [(f.top_emf, AT_TOP), (f.no_load_emf, "with the wheel off the ground")]
    places = [(emf, where) for emf, where in places if math.isfinite(emf)]
    if not places:
        return
    cold = f"magnets at {given(f.coldest_c)} °C"
    limit = rig.controller.max_input_v
    over = [place for place in places if limit is not None and place[0] > limit]
    if over and limit is not None:
        emf, where = over[0]
        kept = limit / f.volts_per_rotor_speed / f.rotor_per_road
        yield Caution(
            "drive-off-controller",
            "danger" if where == AT_TOP else "warning",
            "back-EMF above the controller's volts",
            f"If the drive stops {where}, the motor makes {volts(emf)} ({cold}). The pack holds it "
            f"down only while it is connected and takes charge; else the controller, rated "
            f"{volts(limit)}, can be destroyed. Below about {speed(kept, unit)} the back-EMF "
            "stays under that.",
            emf,
            limit,
            "V",
            rated("controller", rig.controller, "max_input_v"),
        )
    clamp = f.rest_v + DIODE_DROPS_V
    # Behind a freewheel only the rotor is braked, which nobody notices.
    free = rig.motor.overrunning_clutch
    braked = [place for place in places if place[0] > clamp and not free]
    if braked:
        emf, where = braked[0]
        kept = clamp / f.volts_per_rotor_speed / f.rotor_per_road
        yield Caution(
            "drive-off-pack",
            "warning" if where == AT_TOP else "notice",
            "brakes itself if the drive stops",
            f"If the drive stops {where}, the motor makes {volts(emf)} ({cold}), more than the "
            f"pack's {volts(f.rest_v)} and two diodes: it brakes without being asked and charges "
            f"the pack. Below about {speed(kept, unit)} it does not.",
            emf,
            clamp,
            "V",
            f"{MODEL}; diode drops: {PRACTICE}",
        )
