"""What may be set in a controller where the job's own value is one that a caution forbids."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from curves.cautions.facts import Facts
from curves.cautions.wording import celsius, number, volts
from curves.parts.pack import open_circuit_v
from curves.parts.rig import Rig
from curves.units import AS_WRITTEN, KMH, RPM, Units

TENTH_V = 0.1
"""Step in which cut-offs are set."""
NEAR_EMPTY = 1e-3
"""A cut-off this near to empty cells, relative, is at them."""
EMPTY = "its cells are empty there"
REACHED = 1e-6
"""A ceiling that is reached to this share counts as passed: see ``fit``."""


class Instead(NamedTuple):
    """What is right in place of a setting.

    Attributes:
        value: In the job file's unit; None where it is not to be set at all.
        why: The reason, in a few words.
    """

    value: float | None
    why: str


def empty_v(rig: Rig) -> float:
    """Volts of a pack's empty cells at rest, below which they are ruined; 0 for a source."""
    if rig.pack.cell is None:
        return 0.0
    return float(open_circuit_v(rig.pack.cell, rig.pack.series or 1, 0.0))


def least_cutoff_v(rig: Rig) -> float:
    """The lowest cut-off to set in the controller: the BMS opens no sooner, and cells bear it."""
    least = max(rig.pack.bms_cutoff_v or 0.0, empty_v(rig))
    return round(math.ceil(least / TENTH_V - REACHED) * TENTH_V, 1)


def instead(rig: Rig, f: Facts, units: Units = AS_WRITTEN) -> dict[str, Instead]:
    """The settings of a setup that are not to be set as its job says, by their fields.

    Every caution and every reason of ``fit`` that a setting cures is cured by these.

    Args:
        rig: The setup.
        f: What it asks of its parts.
        units: For the reasons.
    """
    slower = [*_speed(rig, f, units)]
    # Slower it may draw more than at a top speed that is out of reach then.
    lasting = f.pack_a if slower else f.steady_pack_a
    found = [*_phase(rig), *_pack(rig, lasting), *_cutoffs(rig, f), *slower]
    return dict([*found, *_weakening(rig, f), *_warm(rig, units)])


def _phase(rig: Rig) -> Iterator[tuple[str, Instead]]:
    limit = rig.controller.max_phase_current_a
    if limit is not None and rig.tune.phase_current_a > limit:
        yield "phase_current_a", Instead(limit, "the controller’s rating")


def _pack(rig: Rig, lasting: float) -> Iterator[tuple[str, Instead]]:
    """The least of the ratings; a pull that lasts is held to what the pack bears for good."""
    steady = rig.pack.continuous_current_a
    given = (
        (rig.controller.max_pack_current_a, "the controller’s rating"),
        (rig.pack.peak_current_a, "the pack’s peak current"),
    )
    limits = [(limit, whose) for limit, whose in given if limit is not None]
    if steady is not None and lasting > steady * (1 + 1e-9):
        limits.append((steady, "the pack’s continuous current: top speed takes more"))
    own = rig.tune.pack_current_a
    # No limit at all is none to hand on where a rating is known, whatever holds it by chance.
    if limits and (own is None or own > min(limits)[0]):
        yield "pack_current_a", Instead(*min(limits))


def _cutoffs(rig: Rig, f: Facts) -> Iterator[tuple[str, Instead]]:
    tune, bms = rig.tune.low_voltage_cutoff_v or 0.0, rig.pack.bms_cutoff_v or 0.0
    least, empty, full = least_cutoff_v(rig), empty_v(rig), volts(f.full_v)
    start, end = rig.controller.foldback_start_v, rig.controller.foldback_end_v
    low = max(tune, bms) < empty * (1 - NEAR_EMPTY)
    right = tune
    if least >= f.full_v:
        right = least
        yield "low_voltage_cutoff_v", Instead(None, f"the BMS cuts off a full pack of {full}")
    elif low or max(tune, end or 0.0) < bms or tune >= f.full_v:
        right = least
        why = "the BMS opens there" if bms >= empty else EMPTY
        none = Instead(None, f"a full pack has {full}")
        yield "low_voltage_cutoff_v", Instead(least, why) if least else none
    if 0 < bms < empty * (1 - NEAR_EMPTY):
        yield "bms_cutoff_v", Instead(least, EMPTY)
    elif bms >= f.full_v:
        yield "bms_cutoff_v", Instead(None, f"a full pack has {full}")
    if start is None or end is None:
        return
    cut = max(right, bms)
    if start >= f.full_v:
        yield "foldback_start_v", Instead(None, f"a full pack has {full}")
    elif start <= cut:
        yield "foldback_start_v", Instead(None, f"the cut-off at {volts(cut)} comes first")


def _speed(rig: Rig, f: Facts, units: Units) -> Iterator[tuple[str, Instead]]:
    """The least speed cap that keeps every ceiling of speed and volts."""
    ceilings: list[tuple[float, str]] = []
    per_road = f.rotor_per_road / RPM
    pairs, limit = f.pole_pairs, rig.controller.max_electrical_rpm
    fastest = max(x for x in (f.top_rotor_speed, f.no_load_rotor_speed, 0.0) if not math.isnan(x))
    rpm = fastest / RPM
    if limit is not None and rpm * pairs >= limit * (1 - 1e-9):
        ceilings.append((limit / pairs / per_road, "the controller follows no further"))
    allowed = rig.motor.max_rpm
    if allowed is not None and rpm >= allowed * (1 - 1e-9):
        ceilings.append((allowed / per_road, "the motor is allowed no more"))
    rated = rig.controller.max_input_v
    if rated is not None and fastest * f.volts_per_rotor_speed > rated and f.harms_above > 0:
        ceilings.append((f.harms_above, f"above it back-EMF passes {volts(rated)}"))
    if not ceilings:
        return
    road, why = min(ceilings)
    # In whole steps of the unit read, below the ceiling and not at it.
    whole = math.floor(units.speed(road) * (1 - REACHED))
    kmh = float(units.typed(whole, "km/h"))
    own = rig.tune.speed_cap_kmh
    if own is None or own * KMH > road * (1 - REACHED):
        yield "speed_cap_kmh", Instead(kmh, why)


def _weakening(rig: Rig, f: Facts) -> Iterator[tuple[str, Instead]]:
    if rig.tune.field_weakening_a > 0 and f.weakening_a > f.characteristic_a:
        most = f"{number(f.characteristic_a)} A peak, most torque per ampere included"
        yield "field_weakening_a", Instead(None, f"past {most}, it only heats")


def _warm(rig: Rig, units: Units) -> Iterator[tuple[str, Instead]]:
    fold, limit = rig.controller.winding_foldback_c, rig.motor.winding_limit_c
    if fold is not None and limit is not None and fold[1] > limit:
        why = f"the winding’s limit is {celsius(limit, units)}"
        yield "winding_foldback_c", Instead(limit if fold[0] < limit else None, why)
