"""Why a setup cannot start: what holds it at rest, and what it would need."""

from __future__ import annotations

import math
from collections.abc import Sequence

from curves.cautions.facts import Facts, survey
from curves.cautions.wording import number, volts
from curves.numerics.roots import Array
from curves.parts.labels import on_slope
from curves.parts.rig import Rig
from curves.steady.starting import starts

CURES = {
    "phase current": "More phase current",
    "pack current": "More pack current",
    "power cap": "A higher power cap",
    "low-voltage cut-off": "A fuller pack",
    "voltage": "More volts",
}
"""What helps a force at rest, by the word of what holds it."""


def why_stuck(rig: Rig, f: Facts) -> str:
    """Two or three sentences on a setup that cannot start; empty for one that does.

    Args:
        rig: The setup with its parts.
        f: What it asks, as ``survey`` gives it.
    """
    if f.starts:
        return ""
    road = on_slope(rig.conditions.grade_percent)
    if math.isnan(f.rest_force):
        return f"It cannot start: {_dead(rig, f)}."
    said = (
        f"It cannot start {road}: at rest the motor gives {number(f.rest_force)} N at the rim, "
        f"the road asks {number(f.rest_load)}."
    )
    return f"{said} {_held(f)}{_pedals(rig)}"


def whys_stuck(rigs: Sequence[Rig], top_speed: Array) -> list[str]:
    """``why_stuck`` of every setup, worked out for those that cannot start alone.

    Args:
        rigs: The setups.
        top_speed: Of each, shape (setups,).
    """
    stuck = [rig for rig, able in zip(rigs, starts(top_speed), strict=True) if not able]
    found = iter(zip(stuck, survey(stuck), strict=True))
    return ["" if able else why_stuck(*next(found)) for able in starts(top_speed)]


def _held(f: Facts) -> str:
    """What holds the force at rest, and what would lift it."""
    cures = [CURES[word] for word in f.held_at_rest if word in CURES]
    cure = f"{cures[0]}, a shorter gear" if cures else "A shorter gear"
    needs = f"{cure} or less load would help"
    if f.rest_force > 0:
        needs += f": it needs {number(f.rest_load / f.rest_force, 2)} times that force"
    held = " and ".join(f.held_at_rest)
    return f"What holds it: {held}. {needs}." if held else f"{needs}."


def _pedals(rig: Rig) -> str:
    return " The rider’s watts help only once it rolls." if rig.bike.rider_power_w > 0 else ""


def _dead(rig: Rig, f: Facts) -> str:
    """Why no current within all limits turns the motor, and what would be right."""
    if f.rest_v <= f.cutoff_v:
        return (
            f"the pack rests at {volts(f.rest_v)}, its cut-off is {volts(f.cutoff_v)}. It needs "
            + ("a fuller pack" if f.full_v > f.cutoff_v else "a cut-off that suits its cells")
        )
    end = rig.controller.foldback_end_v
    if end is not None and f.rest_v <= end:
        return (
            f"the pack rests at {volts(f.rest_v)}, current is folded back to nothing at "
            f"{volts(end)}. It needs "
            + ("a fuller pack" if f.full_v > end else "a fold-back that suits its cells")
        )
    if f.allowed_w < rig.controller.standby_w:
        return (
            f"the controller’s standby of {number(rig.controller.standby_w)} W is more than its "
            "limits let the pack give. It needs a higher power cap, pack current or voltage"
        )
    return (
        f"the motor’s own no-load torque of {number(rig.motor.no_load_torque_nm)} N·m is more than "
        "its limits let it make. It needs more current or volts, or less of that drag"
    )
