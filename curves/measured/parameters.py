"""What a fit may move: the words for it, the field behind each, and within which bounds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from curves.parts.job import Job
from curves.parts.problems import suggest
from curves.parts.reading import refuse, show
from curves.setups.stack import Stack


@dataclass(frozen=True)
class Movable:
    """One kind of value a fit may move.

    Attributes:
        fields: Fields of the stack it may stand for, the first that a setup has.
        meaning: For people.
        low: Lower bound: a factor on the value, or a value where ``span`` is not 0.
        high: Upper bound, likewise.
        most: A value it never passes.
        span: By how much it typically moves where no factor makes sense; 0 for factors.
        usual: Its typical relative spread, for steps and for telling what data say little of.
        helps: What kind of run tells it from others.
    """

    fields: tuple[str, ...]
    meaning: str
    low: float = 0.3
    high: float = 3.0
    most: float = np.inf
    span: float = 0.0
    usual: float = 0.15
    helps: str = ""


MOVABLE: Final[dict[str, Movable]] = {
    "drag-area": Movable(
        ("bike.drag_area_m2", "bike.f2"),
        "drag area",
        helps="a run to top speed, or a coast-down from high speed",
    ),
    "rolling": Movable(
        ("bike.rolling_coefficient", "bike.f0"),
        "rolling resistance",
        0.1,
        5.0,
        usual=0.25,
        helps="a coast-down to walking pace",
    ),
    "mass": Movable(
        ("bike.bike_mass_kg",), "mass of the bike", 0.5, 2.0, usual=0.05, helps="a scale"
    ),
    "kv": Movable(
        ("motor.kv_rpm_per_v",), "Kv", 0.7, 1.4, usual=0.03, helps="the wheel's no-load speed"
    ),
    "resistance": Movable(
        ("motor.resistance_ohm",), "winding resistance", usual=0.05, helps="a four-wire reading"
    ),
    "no-load-torque": Movable(
        ("motor.no_load_torque_nm",),
        "no-load torque",
        0.1,
        5.0,
        usual=0.2,
        helps="no-load amperes at two voltages",
    ),
    "no-load-drag": Movable(
        ("motor.no_load_torque_nm_per_rad_s",),
        "no-load torque per speed",
        0.1,
        5.0,
        usual=0.3,
        helps="no-load amperes at two voltages",
    ),
    "pack-resistance": Movable(
        ("pack.cell_resistance_mohm", "pack.resistance_ohm"),
        "pack resistance",
        usual=0.25,
        helps="the pack's volts in the log",
    ),
    "pack-voltage": Movable(
        ("pack.open_circuit_v",), "pack voltage", 0.8, 1.25, usual=0.03, helps="a voltmeter"
    ),
    "charge": Movable(
        ("setup.state_of_charge",),
        "state of charge",
        0.0,
        1.0,
        1.0,
        span=0.1,
        helps="the pack's resting volts",
    ),
    "usable-voltage": Movable(
        ("controller.max_modulation",),
        "usable share of the voltage",
        0.6,
        1.3,
        1.1027,
        usual=0.03,
        helps="the wheel's no-load speed",
    ),
    "controller-resistance": Movable(
        ("controller.resistance_mohm",), "controller resistance", usual=0.3
    ),
    "pack-current": Movable(("tune.pack_current_a",), "pack current limit", helps="logged amperes"),
    "phase-current": Movable(
        ("tune.phase_current_a",), "phase current limit", helps="a run from rest"
    ),
    "power-cap": Movable(("tune.power_cap_w",), "power cap", helps="logged amperes and volts"),
    "weakening": Movable(("tune.field_weakening_a",), "field weakening current"),
    "torque-rise": Movable(
        ("controller.torque_rise_s",), "time of torque rise", 0.05, 5.0, usual=0.3
    ),
    "drive-efficiency": Movable(
        ("bike.final_drive_efficiency",), "drive efficiency", 0.7, 1.2, 1.0, usual=0.03
    ),
    "headwind": Movable(
        ("conditions.headwind_kmh",),
        "headwind",
        -40.0,
        40.0,
        span=5.0,
        helps="runs in both directions",
    ),
    "grade": Movable(
        ("conditions.grade_percent",),
        "slope",
        -15.0,
        15.0,
        span=0.5,
        helps="runs in both directions",
    ),
}


@dataclass(frozen=True)
class Parameter:
    """One number a fit moves.

    Attributes:
        word: Its key in ``MOVABLE``.
        name: For people: meaning, and the part's name where several are moved.
        field: Of the stack.
        path: Keys of the value in the job.
        setups: Positions in the job of the setups it belongs to.
        start: Its value in the job.
        lower: Bound.
        upper: Bound.
        scale: By how much it would typically move.
    """

    word: str
    name: str
    field: str
    path: tuple[str | int, ...]
    setups: tuple[int, ...]
    start: float
    lower: float
    upper: float
    scale: float

    @property
    def about(self) -> Movable:
        """Its kind."""
        return MOVABLE[self.word]


def parameters(
    job: Job, stacked: Stack, used: Sequence[int], words: Sequence[str]
) -> tuple[Parameter, ...]:
    """The numbers to move: one a word and part that the runs' setups use.

    Args:
        job: the job.
        stacked: all its setups.
        used: positions of the setups that were measured.
        words: keys of ``MOVABLE``.

    Raises:
        JobError: if a word is unknown, or the job has no value to begin from.
    """
    found: list[Parameter] = []
    for word in dict.fromkeys(words):
        if word not in MOVABLE:
            near = suggest(word, list(MOVABLE))
            hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(MOVABLE)}"
            refuse("--move", f"is nothing a fit can move; {hint}", show(word))
        places: dict[tuple[str | int, ...], list[int]] = {}
        fields: dict[tuple[str | int, ...], str] = {}
        for k in dict.fromkeys(used):
            field = _field(word, job, stacked, k)
            path = _path(field, job, k)
            places.setdefault(path, []).append(k)
            fields[path] = field
        for path, setups in places.items():
            name = MOVABLE[word].meaning
            if len(places) > 1:
                name += f" of {job.setup[setups[0]].name if path[0] == 'setup' else path[1]}"
            start = float(stacked.values[fields[path]][setups[0]])
            found.append(_bounded(word, name, fields[path], path, tuple(setups), start))
    return tuple(found)


def _field(word: str, job: Job, stacked: Stack, setup: int) -> str:
    """The field a word stands for in a setup."""
    candidates = [f for f in MOVABLE[word].fields if not np.isnan(stacked.values[f][setup])]
    row = job.setup[setup]
    if candidates and candidates[0].startswith("bike.f") and job.bike[row.bike].road_load_n is None:
        candidates = []
    if candidates and candidates[0].startswith("controller.") and row.controller is None:
        candidates = []
    if not candidates:
        needed = MOVABLE[word].fields[0]
        refuse(
            f"setup {show(row.name)}",
            f"has no {needed} for a fit of {word} to begin from: give the job a first guess",
        )
    return candidates[0]


def _path(field: str, job: Job, setup: int) -> tuple[str | int, ...]:
    part, name = field.split(".")
    if part == "conditions":
        return ("conditions", name)
    if part == "setup":
        return ("setup", setup, name)
    if name in ("f0", "f1", "f2"):
        return ("bike", job.setup[setup].bike, "road_load_n", int(name[1]))
    return (part, str(getattr(job.setup[setup], part)), name)


def _bounded(
    word: str,
    name: str,
    field: str,
    path: tuple[str | int, ...],
    setups: tuple[int, ...],
    start: float,
) -> Parameter:
    about = MOVABLE[word]
    if about.span:
        lower, upper, scale = about.low, min(about.high, about.most), about.span
    elif start > 0:
        lower, upper = about.low * start, min(about.high * start, about.most)
        scale = about.usual * start
    else:
        refuse(
            f"job: {'.'.join(map(str, path))}",
            f"a fit of {word} needs a first guess above 0",
            f"{start:g}",
        )
    return Parameter(word, name, field, path, setups, start, lower, upper, scale)
