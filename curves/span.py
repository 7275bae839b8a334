"""Speeds worth marking along the road: where a setup's line ends, and where its back-EMF bites."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from curves.balance import TopSpeed
from curves.parts.rig import Rig
from curves.point.drive_off import DIODE_V, speed_at_emf
from curves.roots import Array
from curves.stack import Batch, stack
from curves.units import KMH

LEAST = 1.0 * KMH
SHORTEST = 60.0 * KMH
"""Shown where nothing ends the line and the top speed is slow."""


def line_end(b: Batch, top: TopSpeed) -> Array:
    """Road speed at which each setup's line ends, m/s, shape (setups,); never NaN.

    It is the no-load speed, or the cap or ceiling that ends driving before. Where neither exists
    (a motor weakened without bound) it is twice the top speed.

    Args:
        b: The setups.
        top: Their top speeds, as ``top_speed`` gives them.
    """
    rotor = b.ratio[:, 0] / b.radius[:, 0]
    end = np.fmin(top.no_load_speed, b.speed_cap[:, 0])
    end = np.fmin(end, b.rotor_limit[:, 0] / rotor)
    end = np.fmin(end, b.electrical_limit[:, 0] / (rotor * b.drive.pole_pairs[:, 0]))
    beyond = np.fmax(2 * np.nan_to_num(top.speed), SHORTEST)
    return np.fmax(np.where(np.isfinite(end), end, beyond), LEAST)


class DriveOff(NamedTuple):
    """Road speeds above which the drive must not fail, m/s, shape (setups,), NaN for none.

    Attributes:
        brakes: Above it the motor brakes itself and charges the pack; none behind a freewheel.
        harms: Above it the back-EMF exceeds the controller's rated volts, should the pack let go.
    """

    brakes: Array
    harms: Array


def drive_off_speeds(rigs: Sequence[Rig], coldest_c: Sequence[float]) -> DriveOff:
    """Where the back-EMF passes the pack and two diode drops, and the controller's rating.

    Args:
        rigs: The setups, in their tallest gear.
        coldest_c: Temperature of each one's strongest magnets, degC, as ``survey`` gives it.
    """
    b = stack([replace(rig, magnet_c=c) for rig, c in zip(rigs, coldest_c, strict=True)]).batch()
    rated = np.array([rig.controller.max_input_v or np.nan for rig in rigs])
    road = b.radius[:, 0] / b.ratio[:, 0]
    brakes = speed_at_emf(b.drive, b.drive.open_circuit_v + 2 * DIODE_V)[:, 0] * road
    harms = speed_at_emf(b.drive, rated[:, None])[:, 0] * road
    return DriveOff(np.where(b.clutch[:, 0] > 0, np.nan, brakes), harms)
