"""How far a setup climbs a hill before its winding is too hot."""

from __future__ import annotations

import numpy as np

from curves.motion.heat.hills import HillClimb
from curves.motion.heat.march import TOO_ABRUPT
from curves.parts.labels import MAY_NOT_START
from curves.units import AS_WRITTEN, KILOMETRE, MINUTE, Units


def sentence(h: HillClimb, k: int, units: Units = AS_WRITTEN) -> str:
    """The answer for one setup.

    Args:
        h: The climb.
        k: Place of the setup.
        units: For the sentence.
    """
    if not h.starts[k]:
        return "It cannot start on this hill."
    if h.start_speed[k] <= 0:
        return f"It would start on this hill, but a cap holds it at 0 {units.name('km/h')}."
    slow = h.start_speed[k] < h.speed * (1 - 1e-9)
    held = f"{units.speed(h.start_speed[k]):z.0f} {units.name('km/h')}"
    at = f"At {held}" + (", the most it holds there" if slow else "")
    if h.given_up[k]:
        return f"{at}. How far heat lets it climb is not known: {TOO_ABRUPT}."
    if np.isnan(h.longest[k]):
        return (
            f"{at}. How far heat lets it climb is not known: give the motor's heat values and its "
            "winding's limit, or take typical ones by its kind and mass."
        )
    if np.isinf(h.longest[k]):
        risk = f", at worst after {_far(h.low[k], units)}" if np.isfinite(h.low[k]) else ""
        risk = f", though it {MAY_NOT_START}" if h.low[k] == 0 else risk
        return (
            f"{at}, heat does not end this climb{risk}: the winding settles at "
            f"{_hot(h.settled_c[k], units)}, its limit is {_hot(h.limit_c[k], units)}."
        )
    far = _far(h.longest[k], units)
    if h.low[k] < h.high[k]:
        low, high = (_far(x[k], units) for x in (h.low, h.high))
        least = h.low[k] == 0
        far += f" (up to {high}; {MAY_NOT_START})" if least else f" (5 to 95 %: {low} to {high})"
    if np.isnan(h.limit_s[k]):
        return f"{at}, the hot motor gives up after {far} of such a hill."
    room = "the whole hill and more" if h.longest[k] >= h.length else "not the whole hill"
    return (
        f"{at}, the winding reaches its limit of {_hot(h.limit_c[k], units)} after {far} of such a "
        f"hill, in {h.limit_s[k] / MINUTE:z.0f} min: {room}."
    )


def _hot(celsius: float, units: Units) -> str:
    return f"{units.shown(celsius, '°C'):z.0f} {units.name('°C')}"


def _far(metres: float, units: Units) -> str:
    if np.isinf(metres):
        return "any length"
    shown = float(f"{units.shown(metres / KILOMETRE, 'km'):.2g}")
    return f"{shown:g} {units.name('km')}"
