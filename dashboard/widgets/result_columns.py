"""Columns of results for the table of setups; pages pick those they need."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from dash import html

from curves.steady.starting import starts
from curves.studies.levers import bought
from curves.units import Units
from dashboard.answers.setups import (
    Comparison,
    Pinned,
    Reading,
    Speeds,
    cares_of,
    gained_of,
    nominal_v,
    pinned_of,
    speeds_of,
)
from dashboard.base.words import listed, number, signed, speed, speed_factor, unbroken
from dashboard.state.session import View
from dashboard.widgets.marks import change, soft
from dashboard.widgets.setups_table import Column
from dashboard.widgets.verdicts import fits, worst


def study_columns(compared: Comparison, view: View) -> list[Column]:
    """What stands beside a study: top speeds, what holds them, and what to take care of."""
    return [
        *speed_columns(compared, view),
        limit_column(compared, view),
        care_column(compared, view),
    ]


def fit_column(compared: Comparison, view: View) -> Column:
    """Whether the parts go together."""
    cares = _by_slot(compared, cares_of([r.rig for r in compared.readings], view.units))
    return Column(
        "fits",
        "Fits?",
        "Ratings in the job against what the setup asks",
        lambda r, _: fits(cares[r.slot]),
        "fits",
    )


def care_column(compared: Comparison, view: View) -> Column:
    """The most serious caution."""
    cares = _by_slot(compared, cares_of([r.rig for r in compared.readings], view.units))
    said = "The most serious caution; open it for all of them"
    return Column("care", "Take care", said, lambda r, _: worst(cares[r.slot]), "words care")


def volts_column() -> Column:
    """Open-circuit volts."""
    said = "Open-circuit volts of the full pack, and the volts it is named by"
    return Column("volts", "Volts full / nominal", said, _volts)


def speed_columns(compared: Comparison, view: View) -> list[Column]:
    """Top speed full and nearly empty, at the charge asked for where that is another, on the hill.

    Args:
        compared: The setups.
        view: For the unit.
    """
    hill, unit = compared.job.goals.hill, view.speed
    rigs = [r.rig for r in compared.readings]
    speeds: dict[int, Speeds] = _by_slot(compared, speeds_of(rigs, compared.job.goals.hill_percent))

    def column(key: str, head: str, said: str, pick: Callable[[Reading], float | None]) -> Column:
        def cell(r: Reading, against: Reading | None) -> Any:
            return speed_cell(pick(r), None if against is None else pick(against), unit)

        return Column(key, f"{head}, {unit}", said, cell)

    columns = [
        column("full", "Top speed full", "With a full pack", lambda r: speeds[r.slot].full),
        column(
            "empty",
            "Nearly empty",
            "Top speed with a tenth of the charge left",
            lambda r: speeds[r.slot].nearly_empty,
        ),
    ]
    if any(r.rig.state_of_charge != 1.0 for r in compared.readings):
        said = "Top speed at the charge the row asks for, as in the plots"
        columns.append(column("charge", "At its charge", said, lambda r: r.curve.top))
    if hill is not None:
        grade = number(hill.grade_percent)
        said = f"Speed held on the goal's hill of {grade} %"
        head = f"On {grade}\u00a0%"
        columns.append(column("hill", head, said, lambda r: speeds[r.slot].hill))
    return columns


def limit_column(compared: Comparison, view: View) -> Column:
    """What holds a setup at top speed, and what a little more of it buys."""
    said = "What limits at top speed, and what a little more of it buys"
    gained = _by_slot(compared, gained_of([r.rig for r in compared.readings], view.units))
    return Column(
        "limit",
        "Held at top speed by",
        said,
        lambda r, _: _holds(r, gained[r.slot], view.units),
        "words",
    )


def pinned_columns(compared: Comparison, view: View) -> list[Column]:
    """Rim force and what limits it at each pinned speed."""
    rows = pinned_of([r.rig for r in compared.readings], view.pinned_kmh)
    found = _by_slot(compared, rows)

    def at(place: int) -> Callable[[Reading, Reading | None], Any]:
        def cell(r: Reading, against: Reading | None) -> Any:
            other = None if against is None else found[against.slot][place]
            return _pinned(found[r.slot][place], other)

        return cell

    return [
        Column(
            f"pin-{kmh:g}",
            f"Force at {speed(kmh, view.speed, 0)}\u00a0{view.speed}, N",
            "Force at the rim at a pinned speed, and what limits it",
            at(place),
            "pinned",
        )
        for place, kmh in enumerate(view.pinned_kmh)
    ]


def speed_cell(kmh: float | None, against: float | None, unit: str) -> Any:
    """A speed and its difference to the setup compared to."""
    if kmh is None or not starts(kmh):
        return soft("cannot start")
    parts: list[Any] = [html.Span(speed(kmh, unit), className="figure")]
    if against is not None:
        parts += change((kmh - against) * speed_factor(unit), 1)
    return parts


def _by_slot(compared: Comparison, values: Sequence[Any]) -> dict[int, Any]:
    return {r.slot: value for r, value in zip(compared.readings, values, strict=True)}


def _volts(r: Reading, against: Reading | None) -> Any:
    full = r.rig.pack.open_circuit(1.0)
    named = html.Span(f" / {number(nominal_v(r.rig.pack))}", className="beside")
    parts = [html.Span([number(full, 1), named], className="figure")]
    if against is not None:
        parts += change(full - against.rig.pack.open_circuit(1.0), 1)
    return parts


def _holds(r: Reading, gained: Mapping[str, float], units: Units) -> Any:
    words = r.curve.top_limits
    if not words:
        return html.Span("the road" if r.curve.starts else "cannot start")
    return [
        html.Span(listed(words), className="held"),
        *(
            soft(unbroken(f"{x.lever.change}: {signed(x.gain, 1)} {units.name('km/h')}"))
            for x in bought(gained, units)[:2]
        ),
    ]


def _pinned(there: Pinned, against: Pinned | None) -> Any:
    if not math.isfinite(there.force):
        return soft("not driven")
    parts: list[Any] = [html.Span(number(there.force), className="figure")]
    if against is not None:
        parts += change(there.force - against.force)
    return [*parts, soft(listed(there.limits))]
