"""What ``curves`` adds when it is asked to: braking, and what one more of each input buys."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from rich.console import RenderableType

from curves.commands.people import digits, listed, table
from curves.numerics.roots import Array
from curves.setups.batch import Batch
from curves.steady.braking import batch_braking, braking_words
from curves.steady.envelope import Envelope, words
from curves.steady.gains import rotor_per_road, torque_gains
from curves.units import KMH

BRAKING = ("km/h", "rim force N", "pack W", "pack A", "phase A peak", "limited by")
GAINS = {
    "pack_v": ("V", 1.0),
    "series_cell": ("cell", 1.0),
    "pack_a": ("pack A", 1.0),
    "phase_a": ("phase A", 1.0),
    "weakening_a": ("weakening A", 1.0),
    "w": ("100 W", 100.0),
}
"""Heading of each gain for people, and how much more it is for."""


@dataclass(frozen=True)
class Extra:
    """Columns of every setup under a key of their own.

    Attributes:
        key: Their key in the JSON, and what their names begin with in the CSV.
        entries: One mapping a setup, a value a speed.
        table: For people, of one setup at every so many speeds.
    """

    key: str
    entries: Sequence[Mapping[str, object]]
    table: Callable[[int, int], RenderableType]


def braking(b: Batch, names: tuple[str, ...], speeds_kmh: Array) -> Extra:
    """The strongest electrical braking; null where the controller cannot hold it.

    Args:
        b: the setups.
        names: their names.
        speeds_kmh: road speeds, km/h, shape (speeds,).
    """
    found = batch_braking(b, names, speeds_kmh * KMH)
    limits = [[braking_words(x) for x in row] for row in found.limited]
    entries = [
        {
            "torque_nm": found.torque[k],
            "rim_force_n": found.rim_force[k],
            "pack_power_w": found.pack_power[k],
            "pack_voltage_v": found.pack_voltage[k],
            "pack_current_a": found.pack_current[k],
            "phase_current_a": found.phase_current[k],
            "current_d_a": found.current_d[k],
            "current_q_a": found.current_q[k],
            "limited_by": limits[k],
        }
        for k in range(len(names))
    ]
    shown = (found.rim_force, found.pack_power, found.pack_current, found.phase_current)

    def of_setup(k: int, every: int) -> RenderableType:
        rows = [
            [f"{speeds_kmh[j]:g}", *(digits(x[k, j]) for x in shown), listed(limits[k][j])]
            for j in range(0, speeds_kmh.size, every)
        ]
        return table(BRAKING, rows, title=f"{names[k]}, braking", words=2)

    return Extra("braking", entries, of_setup)


def gains(b: Batch, curve: Envelope, speeds_kmh: Array) -> Extra:
    """Torque and rim force per unit more of each input; null where infinite or not driven.

    Args:
        b: the setups.
        curve: their envelope.
        speeds_kmh: its road speeds, km/h, shape (speeds,).
    """
    per = rotor_per_road(b, curve.gear) * b.efficiency
    torque = torque_gains(b, curve.gain)
    force = {name: x * per for name, x in torque.items()}
    entries = [
        {f"nm_per_{name}": x[k] for name, x in torque.items()}
        | {f"rim_n_per_{name}": x[k] for name, x in force.items()}
        for k in range(b.size)
    ]

    def of_setup(k: int, every: int) -> RenderableType:
        rows = [
            [
                f"{speeds_kmh[j]:g}",
                *(digits(force[name][k, j] * step, 2) for name, (_, step) in GAINS.items()),
                listed(words(curve.limited[k, j])),
            ]
            for j in range(0, speeds_kmh.size, every)
        ]
        heads = ("km/h", *(head for head, _ in GAINS.values()), "limited by")
        return table(heads, rows, title=f"{curve.names[k]}, rim N that one more buys", words=2)

    return Extra("gain_per_unit", entries, of_setup)
