"""The map of one setup, when it is known, and its numbers."""

from __future__ import annotations

import numpy as np

from curves.present.table import Table
from dashboard.answers.setups import Comparison
from dashboard.base.words import number, speed
from dashboard.figures.spec import Spec
from dashboard.pages.heat import figure_heat as heat
from dashboard.pages.heat.study import mapped
from dashboard.state.session import View


def build(compared: Comparison, view: View) -> Spec:
    """The map of the setup chosen."""
    made = mapped(compared, view)
    if made is None:
        return heat.blank("No setup is shown")
    reading, found = made
    if found is None:
        return heat.blank("Working out the map …")
    if np.isnan(found.winding_c).all():
        return heat.blank("Its motor has no heat values yet")
    return heat.build(reading.slot, reading.name, found, compared.job.goals.hill, view.units)


def numbers(compared: Comparison, view: View) -> Table:
    """Grades at which it settles at a temperature."""
    made = mapped(compared, view)
    reading, found = (None, None) if made is None else made
    if reading is None or found is None:
        return Table(["Speed"], [], "Not worked out yet")
    units = view.units
    shown = heat.levels(found, units)
    head = [
        f"Speed, {view.speed}",
        *(f"{units.shown(c, '°C'):z.0f} {units.name('°C')}" for c in shown),
        "all it holds",
    ]
    grades = [*(heat.grade_at(found, c) for c in shown), found.grade[-1]]
    rows = [
        [speed(found.kmh[j], view.speed, 0), *(number(float(g[j]), 1) for g in grades)]
        for j in range(0, found.kmh.size, 2)
    ]
    said = f"Grade, %, at which the winding of “{reading.name}” settles at a temperature"
    return Table(head, rows, said)
