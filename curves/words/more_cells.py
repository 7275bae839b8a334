"""What more cells do for top speed."""

from __future__ import annotations

from typing import Final

from curves.steady.starting import starts as can_start
from curves.studies.helping import WORTH_KMH, Line, helping
from curves.units import AS_WRITTEN, KMH, Units
from curves.words.digits import digits
from curves.words.limits import held_by

SEEN: Final = 0.05
"""A difference in top speed that shows, in the unit it is told in."""


def verdict(line: Line, units: Units = AS_WRITTEN) -> list[str]:
    """What more cells do, in clauses; the first can stand alone.

    Args:
        line: Top speed over cells in series.
        units: For the words.
    """
    found, unit = helping(line), units.name("km/h")
    first, last = f"{line.series[0]:.0f}", f"{line.series[-1]:.0f}"
    if not can_start(line.speed).any():
        return [f"it cannot start with {first} to {last} cells in series"]
    top = units.speed(line.speed)
    said: list[str] = []
    if found.stops is not None:
        said = _stopped(line, found.stops, units)
    if found.bends is not None:
        held, count = held_by(line.words[found.bends]), f"{line.series[found.bends]:.0f}"
        was = f", before that {_speed(found.before, units)}" if found.before == found.before else ""
        adds = f"a cell more adds {_speed(found.after, units)} {unit}{was}"
        verb = "holds" if len(line.words[found.bends]) == 1 else "hold"
        said.append(f"from {count} cells on {held} {verb} top speed, not volts: {adds}")
    if found.stops is None and found.bends is None:
        held = held_by(line.words[-1])
        said.append(
            f"more cells raise top speed all the way to {last} in series, {top[-1]:.1f} {unit}, "
            f"held by {held} even there"
        )
    elif found.stops is None:
        said.append(f"{last} cells reach {top[-1]:.1f} {unit}")
    return said


def _stopped(line: Line, at: int, units: Units) -> list[str]:
    """Where more cells stop helping, what holds there, and what the most of them come to."""
    top, unit = units.speed(line.speed), units.name("km/h")
    last, held = f"{line.series[-1]:.0f}", held_by(line.words[at])
    worth = f"a cell more adds less than {units.speed(WORTH_KMH * KMH):.2g} {unit}"
    if at == 0:
        first = f"{line.series[0]:.0f}"
        begun = f"more cells do not help from {first} to {last} in series"
        told = [f"{begun}: {top[0]:.1f} {unit}, held by {held}"]
        free = "voltage does not hold top speed there"
        return [*told, *([] if "voltage" in line.words[0] else [free]), worth]
    before, end = line.words[at - 1], top[-1]
    why = f"where {line.series[at - 1]:.0f} are held by {held_by(before)}"
    most = f"{last} cells make it no faster ({end:.1f} {unit})"
    if not can_start(end):
        most = f"{last} cells cannot start"
    elif end - top[at] > SEEN:
        most = f"{last} cells reach {end:.1f} {unit}"
    return [
        f"more cells stop helping top speed at {line.series[at]:.0f} in series: "
        f"{top[at]:.1f} {unit}, held by {held}, {why if before else 'and starts there'}",
        worth,
        most,
    ]


def _speed(value: float, units: Units) -> str:
    return digits(float(units.speed(value)), 2)
