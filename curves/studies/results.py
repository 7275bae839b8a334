"""Results by name: what maps draw, goals ask and fronts trade, each with its unit and direction."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from curves.errors import JobError, Problem
from curves.motion.climb import steepest_grade
from curves.motion.runs import Runs, Targets, timed_runs
from curves.numerics.roots import Array
from curves.setups.batch import Batch
from curves.setups.stack import Stack
from curves.steady.balance import Balance, balance_speed
from curves.steady.envelope import Drawn, draw, input_power_at, no_load_speed
from curves.steady.part_load import pack_current
from curves.studies.common import LOOKS, Running, running, settled_winding
from curves.units import FOOT, KMH, MPH, PERCENT, Units

_NUMBER = r"(\d+(?:\.\d+)?)"
_TIME = re.compile(rf"time_to_{_NUMBER}(kmh|mph|m|ft)_s")
_GRADE = re.compile(rf"grade_at_{_NUMBER}kmh_percent")
_UNITS = {"kmh": ("km/h", KMH), "mph": ("mph", MPH), "m": ("m", 1.0), "ft": ("ft", FOOT)}
PATTERNS = ("time_to_30mph_s", "time_to_50kmh_s", "time_to_660ft_s", "grade_at_15kmh_percent")
"""Results whose number is the user's to choose, by examples."""


class Found:
    """The results of setups, each worked out once and only when asked for.

    Args:
        setups: The setups.
        targets: Splits that will be asked; all are timed together.
    """

    def __init__(self, setups: Stack, targets: Targets) -> None:
        self.setups, self.targets = setups, targets

    @cached_property
    def batch(self) -> Batch:
        """In SI."""
        return self.setups.batch()

    @cached_property
    def balance(self) -> Balance:
        """Top speed; NaN where the bike cannot start."""
        return balance_speed(self.batch, no_load_speed(self.batch))

    @cached_property
    def running(self) -> Running:
        """What top speed takes."""
        return running(self.batch, self.balance.speed)

    @cached_property
    def drawn(self) -> Drawn:
        """The envelope from rest to top speed, shape (setups, LOOKS)."""
        top = np.nan_to_num(self.balance.speed)[:, None]
        return draw(self.batch, top * np.linspace(0.0, 1.0, LOOKS))

    @cached_property
    def runs(self) -> Runs:
        """The splits."""
        return timed_runs(self.setups, self.targets)

    def time_to(self, speed: float) -> Array:
        """Time from rest to a speed in m/s, s."""
        times: Array = self.runs.speed_time[:, self.targets.speeds.index(speed)]
        return times

    def time_over(self, distance: float) -> Array:
        """Time from rest over a distance in m, s."""
        times: Array = self.runs.distance_time[:, self.targets.distances.index(distance)]
        return times


def _most(x: Array) -> Array:
    """The most over speed, NaN where it is NaN throughout."""
    lost = np.isnan(x).all(axis=1)
    return np.where(lost, np.nan, np.nanmax(np.where(np.isnan(x), -np.inf, x), axis=1))


def _emf(f: Found, *, cold: bool) -> Array:
    """At top speed, in the gear that is then in use."""
    own, coldest = f.batch.drive_off_emf(f.drawn.rotor_speed[:, -1:])
    dead = np.isnan(f.balance.speed)
    return np.where(dead, np.nan, (coldest if cold else own)[:, 0])


def _full_v(f: Found) -> Array:
    full = f.setups.vary({"setup.state_of_charge": np.ones(len(f.setups.names))}).batch()
    volts = full.drive.open_circuit_v[:, 0]
    stated = f.setups.values["pack.full_charge_v"]
    return np.where(np.isnan(stated), volts, stated)


@dataclass(frozen=True)
class Result:
    """A result a person can ask for by name.

    Attributes:
        name: As a goal or a command line writes it, with its unit.
        title: As people read it, without the speed at its end.
        unit: Its unit.
        best: 1 if more is better, -1 if less is.
        of: Works it out, shape (setups,), NaN where it does not apply.
        speed: Road speed that has to be timed for it, m/s.
        distance: Distance that has to be timed for it, m.
        at: Road speed at the end of its title, m/s.
    """

    name: str
    title: str
    unit: str
    best: int
    of: Callable[[Found], Array]
    speed: float | None = None
    distance: float | None = None
    at: float | None = None

    def titled(self, units: Units) -> str:
        """Its title, the speed in it as it is read.

        Args:
            units: What is read.
        """
        if self.at is None:
            return self.title
        return f"{self.title} {units.speed(self.at):.3g} {units.name('km/h')}"


RESULTS: dict[str, Result] = {
    one.name: one
    for one in (
        Result("top_speed_kmh", "top speed", "km/h", 1, lambda f: f.balance.speed / KMH),
        Result("loss_at_top_w", "loss at top speed", "W", -1, lambda f: f.running.loss),
        Result("wh_per_km", "consumption at top speed", "Wh/km", -1, lambda f: f.running.wh_per_km),
        Result(
            "winding_c",
            "winding, settled at top speed",
            "°C",
            -1,
            lambda f: settled_winding(f.setups, f.balance.speed),
        ),
        Result(
            "peak_pack_a",
            "most pack current",
            "A",
            -1,
            lambda f: _most(pack_current(f.batch, input_power_at(f.batch, f.drawn))),
        ),
        Result(
            "peak_phase_a",
            "most phase current, peak",
            "A",
            -1,
            lambda f: _most(np.hypot(f.drawn.point.current_d, f.drawn.point.current_q)),
        ),
        Result(
            "drive_off_emf_cold_v",
            "back-EMF with the drive off, cold magnets",
            "V",
            -1,
            partial(_emf, cold=True),
        ),
        Result(
            "drive_off_emf_v",
            "back-EMF with the drive off, magnets as set",
            "V",
            -1,
            partial(_emf, cold=False),
        ),
        Result("full_charge_v", "pack charged full", "V", -1, _full_v),
        Result("pack_kg", "mass of the pack", "kg", -1, lambda f: f.setups.of("pack.mass_kg")),
        Result("price", "price of the pack", "", -1, lambda f: f.setups.values["pack.price"]),
    )
}


OFFERED = (*(name for name in RESULTS if name not in ("price", "drive_off_emf_v")), *PATTERNS)
"""What people choose from: packs seldom have a price, and of back-EMF the cold magnets' counts."""


def result(name: str) -> Result:
    """A result by its name; times and grades take the number that stands in it.

    Args:
        name: One of ``RESULTS``, or like one of ``PATTERNS``.

    Raises:
        JobError: with the names there are.
    """
    if name in RESULTS:
        return RESULTS[name]
    if (found := _TIME.fullmatch(name)) and float(found[1]) > 0:
        unit, size = _UNITS[found[2]]
        target = float(found[1]) * size
        title = f"0 to {found[1]} {unit}"
        if unit == "km/h":
            return Result(name, "0 to", "s", -1, lambda f: f.time_to(target), target, at=target)
        if unit == "mph":
            return Result(name, title, "s", -1, lambda f: f.time_to(target), target)
        return Result(name, title, "s", -1, lambda f: f.time_over(target), distance=target)
    if found := _GRADE.fullmatch(name):
        at = float(found[1]) * KMH

        def steepest(f: Found) -> Array:
            return steepest_grade(f.setups, np.array([at])).held[:, 0] / PERCENT

        return Result(name, "steepest grade at", "%", 1, steepest, at=at)
    known = ", ".join((*RESULTS, *PATTERNS))
    raise JobError([Problem("result", name, f"must be one of {known}")])


def results_of(setups: Stack, names: Sequence[str]) -> Array:
    """Results of setups by name, shape (setups, names), in the unit each name carries.

    Args:
        setups: The setups.
        names: As ``result`` takes them.

    Raises:
        JobError: if there is no such result.
    """
    asked = [result(name) for name in names]
    speeds = dict.fromkeys(r.speed for r in asked if r.speed is not None)
    distances = dict.fromkeys(r.distance for r in asked if r.distance is not None)
    found = Found(setups, Targets(tuple(speeds), tuple(distances)))
    columns = [np.asarray(r.of(found), dtype=np.float64) for r in asked]
    return np.stack(columns, axis=1) if columns else np.empty((len(setups.names), 0))
