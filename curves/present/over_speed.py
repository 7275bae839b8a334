"""Setups over road speed as programs read them, on the command line and from a page."""

from __future__ import annotations

from curves.numerics.roots import Array
from curves.steady.balance import TopSpeed
from curves.steady.envelope import Envelope, words
from curves.units import KMH, RPM

FORMAT = "rimforce-curves-1"


def entry(curve: Envelope, top: TopSpeed, speeds_kmh: Array, k: int) -> dict[str, object]:
    """One setup's envelope as the JSON gives it.

    Args:
        curve: the envelope of all setups.
        top: their top speeds.
        speeds_kmh: the road speeds as the user wrote them, km/h, shape (speeds,).
        k: which setup.
    """
    return {
        "name": curve.names[k],
        "speed_kmh": speeds_kmh,
        "rotor_rpm": curve.rotor_speed[k] / RPM,
        "torque_nm": curve.torque[k],
        "rim_force_n": curve.rim_force[k],
        "road_force_n": curve.road_force[k],
        "shaft_power_w": curve.shaft_power[k],
        "pack_power_w": curve.pack_power[k],
        "pack_voltage_v": curve.pack_voltage[k],
        "pack_current_a": curve.pack_current[k],
        "phase_current_a": curve.phase_current[k],
        "current_d_a": curve.current_d[k],
        "current_q_a": curve.current_q[k],
        "efficiency": curve.efficiency[k],
        "limited_by": [words(limited) for limited in curve.limited[k]],
        "base_speed_kmh": top.base_speed[k] / KMH,
        "no_load_speed_kmh": top.no_load_speed[k] / KMH,
        "top_speed_kmh": top.speed[k] / KMH,
        "top_speed_limited_by": list(top.limited_by[k]),
    }
