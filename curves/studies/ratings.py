"""What a setup asks of its parts at top speed, beside what they are rated for; arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from curves.balance import TopSpeed
from curves.envelope import draw, input_power_at
from curves.parts import motor as motor_laws
from curves.point.limits import sagged_voltage
from curves.roots import Array
from curves.stack import Stack

CONTROLLER_VOLTS = "controller volts with the drive off"
CONTINUOUS = "pack continuous current"
CHARACTERISTIC = "characteristic current of the motor"


class Asked(NamedTuple):
    """What is asked at top speed, arrays (setups,).

    ``cold_emf_v`` is line to line, peak, with the coldest magnets the conditions allow, V; the
    currents are the pack's and the most -i_d that the setting allows, A.
    """

    cold_emf_v: Array
    pack_current: Array
    weakened_a: Array


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


def asked_of(setups: Stack, top: TopSpeed) -> Asked:
    """What each setup asks of its parts at top speed.

    Args:
        setups: The setups.
        top: Their top speed.
    """
    b = setups.batch()
    d = b.drive
    drawn = draw(b, np.nan_to_num(top.speed)[:, None])
    with np.errstate(invalid="ignore"):
        amperes = input_power_at(b, drawn) / sagged_voltage(d, input_power_at(b, drawn))
    coldest = np.minimum(setups.of("conditions.air_c"), setups.of("setup.magnet_c"))
    flux = motor_laws.flux_linkage(
        setups.of("motor.kv_rpm_per_v"),
        setups.of("motor.pole_pairs"),
        coldest,
        setups.of("motor.magnet_coefficient_per_k"),
    )
    # A ferrite magnet is weakest when cold, and then the setup's own temperature is the worse.
    emf = top.drive_off_emf_v * np.maximum(flux / d.flux[:, 0], 1.0)
    longest = np.where(np.isinf(d.torque_a), d.vector_a, np.hypot(d.torque_a, d.weakening_a))
    return Asked(emf, amperes[:, 0], np.minimum(d.weakening_a, longest)[:, 0])


def ratings_of(setups: Stack, asked: Asked) -> tuple[Rating, ...]:
    """The ratings that field weakening can overstep.

    Args:
        setups: The setups.
        asked: What they ask at top speed.
    """
    d = setups.batch().drive
    with np.errstate(divide="ignore"):
        characteristic = np.where(d.ld > 0, d.flux / d.ld, np.inf)[:, 0]
    return (
        Rating(CONTROLLER_VOLTS, "V", setups.values["controller.max_input_v"], asked.cold_emf_v),
        Rating(CONTINUOUS, "A", setups.values["pack.continuous_current_a"], asked.pack_current),
        Rating(CHARACTERISTIC, "A", characteristic, asked.weakened_a),
    )
