"""Cautions about a setup: what can be damaged or hurt, what is less sure, what to look after."""

from __future__ import annotations

from curves.cautions.caution import SEVERITIES, Caution, Warmth
from curves.cautions.facts import Facts, survey
from curves.cautions.implausible import implausible
from curves.cautions.reminders import reminders, unrated, vehicle_class
from curves.cautions.too_many_volts import drive_off, full_pack
from curves.cautions.too_much_current import (
    pack_current,
    pack_low,
    saturation,
    temperatures,
    weakening,
)
from curves.parts.rig import Rig
from curves.units import AS_WRITTEN, Units


def cautions(
    rig: Rig,
    facts: Facts | None = None,
    *,
    warmth: Warmth | None = None,
    road_class: str | None = None,
    units: Units = AS_WRITTEN,
) -> tuple[Caution, ...]:
    """Every caution that applies to a setup, the most serious first.

    Args:
        rig: the setup with its parts.
        facts: what it asks, as ``survey`` gives it; computed here if left out.
        warmth: temperatures the motor settles at, if they were worked out.
        road_class: the class of vehicle the user chose, a name in ``CLASSES``; None for none.
        units: for the sentences.

    Raises:
        KeyError: if there is no such class.
    """
    f = survey([rig])[0] if facts is None else facts
    found = [
        *implausible(rig, units),
        *full_pack(rig, f),
        *drive_off(rig, f, units),
        *pack_current(rig, f),
        *pack_low(rig, f),
        *temperatures(rig, warmth or Warmth(), units),
        *weakening(rig, f),
        *saturation(rig, f),
        *vehicle_class(rig, f, road_class, units),
        *unrated(rig),
        *reminders(rig, f, units),
    ]
    return tuple(sorted(found, key=lambda caution: SEVERITIES.index(caution.severity)))
