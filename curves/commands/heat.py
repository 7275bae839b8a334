"""``heat``: how far the hill goes before the winding is too hot, and where temperatures settle."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated

import numpy as np
import typer
from rich.console import RenderableType

from curves.commands.options import AsJson, CsvFile, JobFile, opened_job
from curves.commands.output import Answer, give, refuse
from curves.commands.people import ESTIMATES, NONE, digits, indented, table
from curves.errors import JobError, Problem
from curves.motion import heat as warming
from curves.parts.goals import Hill
from curves.parts.job import Job
from curves.parts.labels import MAY_NOT_START
from curves.parts.rig import Rig
from curves.steady.balance import top_speed
from curves.units import KILOMETRE, KMH, MINUTE, PERCENT
from curves.words.hill import sentence

FORMAT = "rimforce-heat-1"
COLUMNS = (
    "setup",
    "hill km",
    "from",
    "to",
    "winding at the top °C",
    "top speed km/h",
    "winding there °C",
    "min to its limit",
)
USUAL_M = 1000.0
BAND = (
    "From and to are a band from 5 to 95 %, from the inputs that state a tolerance; heat values "
    "that are only typical are sure to half their size."
)


def heat(
    job: JobFile = None,
    grade_percent: Annotated[
        float | None, typer.Option(help="Grade of the hill, percent; the goal's if left out.")
    ] = None,
    length_m: Annotated[
        float | None, typer.Option(help="Its length, m; the goal's if left out.")
    ] = None,
    speed_kmh: Annotated[
        float | None, typer.Option(help="Speed to be held on it, km/h; the goal's if left out.")
    ] = None,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """How much of a hill can be climbed before the winding is too hot, and what settles."""
    loaded = opened_job(job)
    hill, rigs = _hill(loaded, grade_percent, length_m, speed_kmh), loaded.rigs()
    climb = warming.hill(rigs, hill.grade_percent * PERCENT, hill.length_m, hill.speed_kmh * KMH)
    top = top_speed(rigs).speed
    level = warming.time_to_limit(rigs, np.nan_to_num(top))
    setups = [entry(climb, level, top, k) for k in range(len(rigs))]
    answer = Answer(
        document={
            "format": FORMAT,
            "hill": {
                name: getattr(hill, name) for name in ("grade_percent", "length_m", "speed_kmh")
            },
            "setups": setups,
        },
        rows=lambda: [_row(setup) for setup in setups],
        tables=lambda: _tables(rigs, setups, climb, hill),
    )
    give(answer, as_json=as_json, csv_file=csv)


def _hill(job: Job, grade: float | None, length: float | None, speed: float | None) -> Hill:
    goal = job.goals.hill
    if goal is None and (grade is None or speed is None):
        where = "--grade-percent and --speed-kmh"
        raise JobError([Problem(where, "", "are needed: the job has no goal hill")])
    values = {
        "grade_percent": grade if grade is not None or goal is None else goal.grade_percent,
        "length_m": length if length is not None else goal.length_m if goal else USUAL_M,
        "speed_kmh": speed if speed is not None or goal is None else goal.speed_kmh,
    }
    for name, least, most in (
        ("grade_percent", 0.0, 100.0),
        ("length_m", 1e-3, 1e6),
        ("speed_kmh", 0.1, 300.0),
    ):
        value = values[name]
        if value is None or not least <= value <= most:
            option = "--" + name.replace("_", "-")
            refuse(option, f"{value:g}", f"must be from {least:g} to {most:g}")
    return Hill.model_validate(values)


def entry(
    climb: warming.HillClimb, level: warming.Warming, top: np.ndarray, k: int
) -> dict[str, object]:
    """One setup's heat as the JSON gives it; what never happens is null, and ``ended_by`` says so.

    Args:
        climb: the hill of all setups.
        level: what their top speed does.
        top: that speed, m/s.
        k: which setup.
    """
    settled = level.settled
    return {
        "name": climb.names[k],
        "hill": {
            "longest_m": climb.longest[k],
            "low_m": climb.low[k],
            "high_m": climb.high[k],
            "ended_by": ended_by(climb, k),
            "start_speed_kmh": climb.start_speed[k] / KMH,
            "winding_at_top_c": climb.top_winding_c[k],
            "case_at_top_c": climb.top_case_c[k],
            "time_to_winding_limit_s": climb.limit_s[k],
            "time_to_magnet_limit_s": climb.magnet_limit_s[k],
            "settled_winding_c": climb.settled_c[k],
            "settles": bool(np.isfinite(climb.settled_c[k])),
            "sentence": sentence(climb, k),
        },
        "top_speed": {
            "speed_kmh": top[k] / KMH,
            "settled_winding_c": settled.winding_c[k],
            "settled_case_c": settled.case_c[k],
            "settles": bool(np.isfinite(settled.winding_c[k])),
            "time_to_winding_limit_s": level.winding_s[k],
            "time_to_magnet_limit_s": level.magnet_s[k],
        },
    }


def ended_by(climb: warming.HillClimb, k: int) -> str:
    """What ends a setup's climb.

    Args:
        climb: the hill of all setups.
        k: which setup.
    """
    if not climb.starts[k]:
        return "cannot start"
    if climb.start_speed[k] <= 0:
        return "held at 0 km/h"
    if np.isnan(climb.longest[k]):
        return "not known"
    if np.isinf(climb.longest[k]):
        return "nothing"
    return "hot motor gives up" if np.isnan(climb.limit_s[k]) else "winding limit"


def _parts(setup: dict[str, object]) -> tuple[dict[str, float], dict[str, float]]:
    hill, top = setup["hill"], setup["top_speed"]
    assert isinstance(hill, dict)
    assert isinstance(top, dict)
    return hill, top


def _row(setup: dict[str, object]) -> dict[str, object]:
    hill, top = _parts(setup)
    return {
        "name": setup["name"],
        **{f"hill_{key}": value for key, value in hill.items()},
        **{f"top_speed_{key}": value for key, value in top.items()},
    }


def _tables(
    rigs: Sequence[Rig],
    setups: Sequence[dict[str, object]],
    climb: warming.HillClimb,
    hill: Hill,
) -> Iterable[RenderableType]:
    rows = []
    for setup in setups:
        on_hill, at_top = _parts(setup)
        lengths = [_km(on_hill[name]) for name in ("longest_m", "low_m", "high_m")]
        if on_hill["low_m"] == 0 < on_hill["longest_m"]:
            lengths[1] = MAY_NOT_START
        rows.append(
            [
                str(setup["name"]),
                *lengths,
                digits(on_hill["winding_at_top_c"], 2),
                digits(at_top["speed_kmh"], 2),
                _settled(at_top["settled_winding_c"]),
                digits(at_top["time_to_winding_limit_s"] / MINUTE, 2),
            ]
        )
    title = (
        f"Longest hill of {hill.grade_percent:g} % at {hill.speed_kmh:g} km/h before the winding's "
        f"limit; the goal is {hill.length_m:g} m"
    )
    yield table(COLUMNS, rows, title=title)
    for k, name in enumerate(climb.names):
        yield indented(f"{name}: {sentence(climb, k)}")
    if any(rig.motor.tolerance for rig in rigs):
        yield BAND
    yield ESTIMATES


def _km(metres: float) -> str:
    return "any" if np.isinf(metres) else digits(metres / KILOMETRE, 2)


def _settled(celsius: float) -> str:
    return "does not settle" if np.isinf(celsius) else digits(celsius, 2) or NONE
