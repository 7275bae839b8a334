"""What a sweep of packs says."""

from __future__ import annotations

import numpy as np

from curves.parts.goals import Goals
from curves.parts.labels import charged, on_slope
from curves.steady.starting import starts
from curves.studies.helping import Line, helping
from curves.studies.packs import PackSweep
from curves.units import AS_WRITTEN, KMH, PERCENT, Units
from curves.words.more_cells import verdict


def sentence(sweep: PackSweep, units: Units = AS_WRITTEN) -> str:
    """The answer in one plain sentence, for the first charge and grade."""
    return f"{'; '.join(statements(sweep, units))}."


def statements(sweep: PackSweep, units: Units = AS_WRITTEN) -> list[str]:
    """The answer with its numbers in clauses, the first for the first charge and grade.

    Args:
        sweep: What was found.
        units: For the words.
    """
    line = sweep.line()
    if not starts(line.speed).any():
        first, last = sweep.series[0], sweep.series[-1]
        return [f"It cannot start with {first:.0f} to {last:.0f} cells in series"]
    given = f"With a {charged(sweep.charge[0])} pack {on_slope(_percent(sweep.grade[0]))}"
    first_said, *said = verdict(line, units)
    stops = helping(line).stops is not None
    if sweep.charge.size > 1:
        said += _elsewhere(sweep.line(charge=-1), f"with a {charged(sweep.charge[-1])} pack", stops)
    if sweep.grade.size > 1:
        said += _elsewhere(sweep.line(slope=-1), on_slope(_percent(sweep.grade[-1])), stops)
    if sweep.caps != "grown" and stops:
        said += _elsewhere(sweep.grown, "with caps that grow with the pack", stops)
    return [f"{given}, {first_said}", *said]


def _elsewhere(line: Line, where: str, stops: bool) -> list[str]:
    """Where more cells stop helping elsewhere, told against whether they do at first."""
    at = helping(line).stops
    if not starts(line.speed).any():
        return [f"{where} it cannot start"]
    if at is None:
        return [f"{where} they go on helping"] if stops else []
    count = f"{line.series[at]:.0f}"
    if at == 0:
        return [f"{where} more than {count} do not help"]
    return [f"{where} it is {count}" if stops else f"{where} more stop helping at {count}"]


def for_goals(sweep: PackSweep, goals: Goals, units: Units = AS_WRITTEN) -> list[str]:
    """The fewest cells that meet each goal of speed, full and as empty as was asked.

    Args:
        sweep: What was found; its first slope is the road of the goal of top speed, and the goal's
            hill is told where its slope is in it.
        goals: What the rider wants.
        units: For the sentences.
    """
    unit, said = units.name("km/h"), []
    if goals.top_speed_kmh is not None:
        wanted = f"The goal of {units.shown(goals.top_speed_kmh, 'km/h'):.3g} {unit}"
        road = on_slope(_percent(sweep.grade[0]))
        said.append(f"{wanted} {road} takes {_fewest(sweep, 0, goals.top_speed_kmh)}.")
    slopes = np.flatnonzero(np.isclose(sweep.grade, (goals.hill_percent or 0.0) * PERCENT))
    if goals.hill is not None and slopes.size:
        wanted = f"{units.shown(goals.hill.speed_kmh, 'km/h'):.3g} {unit}"
        road = on_slope(goals.hill.grade_percent)
        fewest = _fewest(sweep, int(slopes[-1]), goals.hill.speed_kmh)
        said.append(f"The goal of {wanted} {road} takes {fewest}.")
    return said


def _fewest(sweep: PackSweep, slope: int, wanted_kmh: float) -> str:
    """``12 cells full and 15 nearly empty``, of the fullest and the emptiest pack asked."""
    met = sweep.top_speed[:, slope] >= wanted_kmh * KMH * (1 - 1e-9)
    ends = dict.fromkeys((int(np.argmax(sweep.charge)), int(np.argmin(sweep.charge))))
    said: list[str] = []
    for k in ends:
        fewest = sweep.series[int(np.argmax(met[k]))]
        count = f"{fewest:.0f}" if met[k].any() else f"more than {sweep.series[-1]:.0f}"
        less = " or fewer" if met[k, 0] and fewest > 1 else ""
        said.append(f"{count}{'' if said else ' cells'}{less} {charged(sweep.charge[k])}")
    return " and ".join(said)


def _percent(grade: float) -> float:
    """A slope as it was given."""
    return round(float(grade) / PERCENT, 9)
