"""What would move it? What a little more of each thing buys at top speed, and what to measure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from curves.balance import CEILING_WORDS, COASTING
from curves.digits import digits
from curves.labels import possessive
from curves.roots import Array
from curves.studies.sensitivity import Sensitivity
from curves.units import AS_WRITTEN, PERCENT, Units


class Lever(NamedTuple):
    """A small change of one thing.

    Attributes:
        gain: Its entry in ``TopSpeed.gain``.
        step: How much of it, in that entry's unit; below 0 for less.
        change: The change in words, as what a sentence begins with or goes on with.
    """

    gain: str
    step: float
    change: str


VOLT = Lever("kmh_per_pack_v", 1.0, "one more volt")
LEVERS = (
    VOLT,
    Lever("kmh_per_series_cell", 1.0, "one more cell in series"),
    Lever("kmh_per_pack_a", 1.0, "one more ampere from the pack"),
    Lever("kmh_per_phase_a", 10.0, "10 A more phase current"),
    Lever("kmh_per_weakening_a", 1.0, "one more ampere of field weakening"),
    Lever("kmh_per_w", 100.0, "100 W more"),
    Lever("kmh_per_m2", -0.05, "0.05 m² less drag area"),
    Lever("kmh_per_kg", -10.0, "10 kg less"),
)
"""What can be had more or less of, the electrical first; steps small enough for a slope to tell."""
WORTH = 0.05
"""A gain below this, in the unit shown, is not worth a word."""


class Bought(NamedTuple):
    """What a lever buys: its change in words, and the speed gained in the unit asked for."""

    lever: Lever
    gain: float


def levers_in(units: Units) -> tuple[Lever, ...]:
    """The levers with steps that are round in the unit of mass that is read.

    Args:
        units: What is read.
    """
    if units.name("kg") == "kg":
        return LEVERS
    *others, lighter = LEVERS
    step, unit = 20.0, units.name("kg")
    return (*others, Lever(lighter.gain, -units.typed(step, "kg"), f"{step:g} {unit} less"))


def telling(gain: Mapping[str, Array | float], units: Units = AS_WRITTEN) -> tuple[Lever, ...]:
    """The levers that tell something of one setup or several.

    A cell says more than a volt, for it brings its own resistance and mass: so volts are left out
    where every pack is made of cells.

    Args:
        gain: ``TopSpeed.gain`` of them: km/h per unit more, NaN for none.
        units: For the levers' steps.
    """
    of_cells = bool(np.isfinite(gain["kmh_per_series_cell"]).all())
    return tuple(
        x
        for x in levers_in(units)
        if np.isfinite(gain[x.gain]).any() and not (of_cells and x is VOLT)
    )


def bought(gain: Mapping[str, float], units: Units = AS_WRITTEN) -> tuple[Bought, ...]:
    """What is worth having a little more or less of at top speed, the most telling first.

    Args:
        gain: One setup's ``TopSpeed.gain``: km/h per unit more, NaN for none.
        units: Of the gains returned.
    """
    found = [Bought(x, units.change(gain[x.gain] * x.step, "km/h")) for x in telling(gain, units)]
    return tuple(sorted((x for x in found if x.gain >= WORTH), key=lambda x: -x.gain))


def buys(
    gain: Mapping[str, float],
    limited_by: Sequence[str],
    *,
    units: Units = AS_WRITTEN,
    most: int = 3,
) -> str:
    """“One more … here buys …” at a setup's top speed, in one sentence.

    Args:
        gain: The ``TopSpeed.gain`` of a setup that starts: km/h per unit more; all NaN past the
            motor's own end, where the rider alone holds the speed.
        limited_by: The words of what limits its top speed.
        units: For the sentence.
        most: How many changes to name.
    """
    if all(math.isnan(x) for x in gain.values()):
        return "The rider alone holds this speed: the motor gives nothing more there."
    held = [word for word in limited_by if word in CEILING_WORDS]
    if held:
        return f"Held by the {' and the '.join(held)}: nothing else buys speed here."
    found = bought(gain, units)[:most]
    unit = units.name("km/h")
    volts = _no_volts(gain, units)
    rolls = "It rolls faster than the motor drives it. " if COASTING in limited_by else ""
    if not found:
        return f"{rolls}A little more of any one thing buys no speed worth naming here."
    first, *rest = (f"{x.lever.change} buys {digits(x.gain, 2)} {unit}" for x in found)
    first = first.replace(" buys ", " here buys ", 1)
    return f"{rolls}{first[:1].upper()}{', '.join([first[1:], *rest])}{volts}."


def _no_volts(gain: Mapping[str, float], units: Units) -> str:
    """The question of most tuners, answered where the answer is no."""
    volt, cell = gain["kmh_per_pack_v"], gain["kmh_per_series_cell"]
    # A source pack has no cells; the gain of a volt is not known where it is without end.
    most = units.change(max(volt, volt if math.isnan(cell) else cell), "km/h")
    return "; more volts buy nothing" if most < WORTH else ""


def measure_next(found: Sensitivity, *, units: Units = AS_WRITTEN) -> str | None:
    """The input that leaves top speed the most open, in one sentence; None where none matters.

    Args:
        found: The setup's ``sensitivity``.
        units: For the sentence.
    """
    if found.measure_next is None:
        return None
    first = found.influences[0]
    moved = digits(units.change(abs(first.kmh), "km/h"), 2)
    return (
        f"Measure {possessive(first.input)} next: its ± {digits(first.share / PERCENT, 2)} % alone "
        f"moves this top speed by ± {moved} {units.name('km/h')}."
    )
