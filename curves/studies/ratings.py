"""What a setup asks of its parts at top speed, beside what they are rated for; arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.motion.heat import Settled, settled
from curves.numerics.roots import Array
from curves.setups.stack import Stack
from curves.steady.balance import TopSpeed
from curves.studies.common import running

CONTROLLER_VOLTS = "controller volts with the drive off"
CONTINUOUS = "pack continuous current"
CHARACTERISTIC = "characteristic current of the motor"
WINDING = "winding temperature"
MAGNETS = "magnet temperature"
RATINGS = (CONTROLLER_VOLTS, CONTINUOUS, CHARACTERISTIC)
HEAT_RATINGS = (WINDING, MAGNETS)
"""What takes a settled temperature to tell."""


@dataclass(frozen=True)
class Rating:
    """One rating, arrays (setups,): NaN where a part states none.

    Attributes:
        name: What is rated.
        unit: Of both values; phase currents in peak amperes.
        rated: What the part stands.
        asked: What the setup asks of it.
    """

    name: str
    unit: str
    rated: Array
    asked: Array


def rating_of(name: str, setups: Stack, top: TopSpeed, warm: Settled | None = None) -> Rating:
    """One rating that field weakening can overstep, and what is asked of it at top speed.

    Args:
        name: One of ``RATINGS`` or ``HEAT_RATINGS``.
        setups: The setups.
        top: Their top speed.
        warm: What settles there, if it is known already.
    """
    if name == CONTROLLER_VOLTS:
        rated = setups.values["controller.max_input_v"]
        return Rating(name, "V", rated, top.drive_off_emf_cold_v)
    if name == CONTINUOUS:
        amperes = running(setups.batch(), top.speed).pack_current
        return Rating(name, "A", setups.values["pack.continuous_current_a"], amperes)
    if name == CHARACTERISTIC:
        d = setups.batch().drive
        with np.errstate(divide="ignore"):
            characteristic = np.where(d.ld > 0, d.flux / d.ld, np.inf)
        # The most -i_d the setting allows, be it used or not.
        longest = np.where(np.isinf(d.torque_a), d.vector_a, np.hypot(d.torque_a, d.weakening_a))
        asked = np.minimum(d.weakening_a, longest)
        return Rating(name, "A", characteristic[:, 0], asked[:, 0])
    warm = settled(setups, np.nan_to_num(top.speed)) if warm is None else warm
    if name == WINDING:
        return Rating(name, "°C", setups.values["motor.winding_limit_c"], warm.winding_c)
    return Rating(name, "°C", setups.values["motor.magnet_limit_c"], warm.case_c)
