"""What a sweep of field weakening says, in sentences."""

from __future__ import annotations

import numpy as np

from curves.parts.labels import charged
from curves.steady.starting import starts
from curves.studies.weakening import WeakeningSweep
from curves.units import AS_WRITTEN, Units
from curves.words.limits import held_by


def sentence(
    sweep: WeakeningSweep, units: Units = AS_WRITTEN, other: WeakeningSweep | None = None
) -> str:
    """The three answers in plain sentences."""
    return " ".join(statements(sweep, units, other))


def statements(
    sweep: WeakeningSweep, units: Units = AS_WRITTEN, other: WeakeningSweep | None = None
) -> list[str]:
    """The three answers with their numbers and reasons, a sentence each.

    Args:
        sweep: What was found.
        units: For the sentences.
        other: The same at another charge, for where weakening stops paying there.
    """
    if not starts(sweep.top.speed).any():
        return ["It cannot start, whatever its field weakening."]
    if sweep.spread is not None:
        return _as_ranges(sweep, units, other)
    said = sweep.answers
    fastest, within = said.fastest[0], said.within[0]
    slow, fast = units.speed(sweep.top.speed[0]), units.speed(sweep.top.speed[-1])
    unit, last = _unit(sweep), sweep.amps[-1]
    by, road = held_by(said.by[0]), units.name("km/h")
    if fastest <= sweep.amps[0]:
        first = (
            f"does not raise the top speed of {slow:.1f} {road}, held by {by}"
            f"{_but_there(other, units)}."
        )
    elif said.rising[0]:
        first = (
            f"raises top speed from {slow:.1f} to {fast:.1f} {road}, and it still rises at "
            f"{last:g} {unit}."
        )
    else:
        first = (
            f"raises top speed from {slow:.1f} {road} to {fast:.1f} at {fastest:.1f} {unit}; past "
            f"that it is held by {by} and no more is used."
        )
    second = f"An extra ampere {_pays(sweep, units)}{_there(sweep, other, units)}."
    begun = "Field" if np.isnan(sweep.charge) else f"With a {charged(sweep.charge)} pack, field"
    return [
        f"{begun} weakening {first}",
        second,
        _within_said(within, said.stopped_by[0], last, unit),
        *_less_kept_there(sweep, other),
    ]


def _but_there(other: WeakeningSweep | None, units: Units) -> str:
    """What it adds at another charge, where it adds nothing at this one."""
    if other is None or other.spread is not None:
        return ""
    slow, fast = (round(float(units.speed(other.top.speed[k])), 1) for k in (0, -1))
    # As shown: what is not to be seen is nothing, nor is what cannot be told.
    if not fast > slow:
        return ""
    return (
        f", but with a {charged(other.charge)} one it adds {fast - slow:z.1f} "
        f"{units.name('km/h')} up to {other.answers.fastest[0]:.1f} {_unit(other)}, "
        f"from {slow:.1f} to {fast:.1f}"
    )


def _pays(sweep: WeakeningSweep, units: Units) -> str:
    """What an extra ampere buys, and from where on less than it should."""
    pays, unit, worth = sweep.answers.diminishing[0], _unit(sweep), _worth(sweep, units)
    if np.isnan(pays):
        return f"still buys {worth} at {sweep.amps[-1]:g} {unit}"
    if pays <= sweep.amps[0]:
        return f"buys less than {worth} from the first on"
    return f"buys less than {worth} from {pays:.1f} {unit} on"


def _there(sweep: WeakeningSweep, other: WeakeningSweep | None, units: Units) -> str:
    """Where it stops paying at another charge."""
    if other is None:
        return ""
    said = f" with a {charged(sweep.charge)} pack; with a {charged(other.charge)} one"
    fast = units.speed(other.top.speed[-1])
    if not starts(fast):
        return f"{said} the bike cannot start"
    pays = _pays(other, units)
    if other.spread is not None:
        low, high = other.spread["diminishing"]
        pays = f"buys less from {_range(low, high, _unit(other))}"
    return f"{said} it {pays}, and top speed is {fast:.1f} {units.name('km/h')} at most"


def _within_said(within: float, by: str, last: float, unit: str) -> str:
    if np.isnan(within):
        return f"No setting is within every rating: {by} is passed without any weakening."
    if by:
        return f"Up to {within:.1f} {unit} every rating is kept; the first to go is {by}."
    return f"No rating is passed up to {last:g} {unit}."


def _less_kept_there(sweep: WeakeningSweep, other: WeakeningSweep | None) -> list[str]:
    """Where a rating is passed sooner at another charge."""
    if other is None or not starts(other.top.speed).any():
        return []
    within, there = sweep.answers.within[0], other.answers.within[0]
    if np.isnan(within) or there >= within:
        return []
    said = _within_said(there, other.answers.stopped_by[0], other.amps[-1], _unit(other))
    return [f"With a {charged(other.charge)} pack {said[0].lower()}{said[1:]}"]


def _as_ranges(sweep: WeakeningSweep, units: Units, other: WeakeningSweep | None) -> list[str]:
    unit = _unit(sweep)
    ranges = {name: _range(*ends, unit) for name, ends in (sweep.spread or {}).items()}
    return [
        "The inductance is only typical, so no single figure is given: top speed peaks at "
        f"{ranges['fastest']}, every rating is kept up to {ranges['within']}, and an extra ampere "
        f"buys less than {_worth(sweep, units)} from {ranges['diminishing']} (nine in ten of such "
        f"motors){_there(sweep, other, units)}.",
        "Measure the inductance for one figure.",
    ]


def _range(low: float, high: float, unit: str) -> str:
    return f"{low:.0f} to {high:.0f} {unit}" if low == low else "nowhere in the range"


def _worth(sweep: WeakeningSweep, units: Units) -> str:
    return f"{units.speed(sweep.worth):.2g} {units.name('km/h')}"


def _unit(sweep: WeakeningSweep) -> str:
    return "A rms" if sweep.basis == "rms" else "A"
