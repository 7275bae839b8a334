"""The units that are read and typed, chosen once for all pages."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import html

from curves.units import SWAPS, Units
from dashboard.base import ids
from dashboard.widgets.attributes import attributes

QUANTITIES = {
    "mph": "Speed and distance",
    "lbf·ft": "Torque",
    "°F": "Temperature",
    "lb": "Mass",
}


def units_menu(units: Units) -> Any:
    """A menu with a switch a quantity."""
    rows = [_row(name, usual, units) for name, (usual, _) in SWAPS.items()]
    said = "A job file keeps its own units: km/h, N·m, °C, kg."
    return html.Details(
        [
            html.Summary("Units"),
            html.Div([*rows, html.P(said, className="soft")], className="choices units"),
        ],
        className="menu",
    )


def _row(name: str, usual: str, units: Units) -> Any:
    return html.Div(
        [
            html.Span(QUANTITIES[name]),
            dmc.SegmentedControl(
                id=ids.unit(name, usual),
                data=[usual, name],
                value=name if name in units.chosen else usual,
                size="xs",
                **attributes(aria_label=QUANTITIES[name]),
            ),
        ],
        className="units-row",
    )
