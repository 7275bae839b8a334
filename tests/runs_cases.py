"""Setups for tests of runs, heat and energy, in numbers that can be followed by hand."""

import numpy as np

from curves import parse_job
from curves.units import RPM

FLUX = 0.1
KV = 1 / (np.sqrt(3) * FLUX * RPM)
"""Of a motor with one pole pair and this flux: 0.15 N m per ampere."""
PER_AMPERE = 1.5 * FLUX
VOLTS = 1e5
"""So many that voltage never limits."""


def rigs(motor="", pack=None, tune="phase_current_a = 1e3", bike="", controller="", extra=""):
    """One setup without loss, inertia or road load but for what is given; its wheel 1 m in radius.

    Args:
        motor, tune, bike, controller: Lines that replace or add to the tables.
        pack: Lines of the pack; a stiff source of many volts if left out.
        extra: Lines before the tables, such as ``[conditions]``.
    """
    tables = {
        "motor.m": {
            "kv_rpm_per_v": float(KV),
            "resistance_ohm": 0.0,
            "inductance_d_uh": 0.0,
            "inductance_q_uh": 0.0,
            "pole_pairs": 1,
        },
        "controller.c": {},
        "pack.p": {} if pack else {"open_circuit_v": VOLTS, "resistance_ohm": 0.0},
        "tune.t": {},
        "bike.b": {
            "bike_mass_kg": 180.0,
            "rider_kg": 0.0,
            "circumference_m": float(2 * np.pi),
            "road_load_n": [0.0, 0.0, 0.0],
            "wheel_inertia_kg_m2": 0.0,
        },
    }
    given = {
        "motor.m": motor,
        "controller.c": controller,
        "pack.p": pack or "",
        "tune.t": tune,
        "bike.b": bike,
    }
    text = f'format = "rimforce-job-1"\n{extra}\n'
    for name, fields in tables.items():
        said = {line.split("=")[0].strip() for line in given[name].splitlines()}
        if {"rolling_coefficient", "drag_area_m2"} & said:
            said.add("road_load_n")
        lines = [f"{key} = {value!r}" for key, value in fields.items() if key not in said]
        text += f"[{name}]\n" + "\n".join(lines) + f"\n{given[name]}\n"
    text += (
        '[[setup]]\nname = "s"\nmotor = "m"\ncontroller = "c"\npack = "p"\ntune = "t"\nbike = "b"\n'
    )
    return parse_job(text).rigs()


def constant_force(newtons, bike=""):
    """A setup that pulls with the same force at every speed."""
    return rigs(tune=f"phase_current_a = {newtons / PER_AMPERE!r}", bike=bike)
