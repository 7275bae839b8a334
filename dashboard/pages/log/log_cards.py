"""What is shown of a log: its columns to be confirmed, its splits, and what a fit found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
import numpy as np
from dash import html

from curves.measured.fit import Fit
from curves.measured.intake import Look
from curves.measured.overlay import Overlay, Split
from curves.measured.parameters import MOVABLE
from curves.measured.vocabulary import CLOCK_UNIT, QUANTITIES, UNITS
from curves.units import KMH, MPH
from curves.words.digits import digits
from curves.words.overlay import split_name
from dashboard.base.words import NONE, number, signed, unbroken
from dashboard.pages.log.study import Seen
from dashboard.widgets.attributes import attributes
from dashboard.widgets.buttons import main_button, plain_button
from dashboard.widgets.figure_card import numbers_table

NO_COLUMN = "not in this log"
SHOWN = ("time", "speed", "distance", "pack_v", "pack_a")
"""Quantities whose column can be chosen even where none was found."""
NAMES = {
    "pack_v": "pack volts",
    "pack_a": "pack amperes",
    "pack_w": "pack watts",
    "motor_c": "motor temperature",
    "rotor_rpm": "rotor speed",
    "electrical_rpm": "electrical speed",
    "wheel_rpm": "wheel speed",
}

WRITTEN = {"v": "V", "mv": "mV", "a": "A", "ma": "mA", "w": "W", "kw": "kW", "c": "°C", "°f": "°F",
           "clock": "clock time"}  # fmt: skip
"""Units as people write them, where the list of spellings does not."""


def column_name(quantity: Any, what: Any) -> dict[str, Any]:
    """The choice of a quantity's column or unit."""
    return {"type": "log-column", "quantity": quantity, "what": what}


def columns_card(look: Look, *, sure: bool) -> Any:
    """What each column is taken to mean, for a person to confirm.

    Args:
        look: The log at first sight.
        sure: Whether that was done.
    """
    taken = {column.quantity: column for column in look.columns}
    rows = [
        _column(quantity, taken.get(quantity), look) for quantity in dict.fromkeys((*SHOWN, *taken))
    ]
    doubtful = [c for c in look.columns if not c.sure]
    said = [f"{_called(c.quantity)}: {c.why or 'a guess'}, check its unit." for c in doubtful]
    head = [html.Th(x, scope="col") for x in ("Quantity", "Column", "Unit", "First values")]
    return html.Section(
        [
            html.Div(
                [
                    html.H2("What the columns mean"),
                    html.P("A proposal from names, units and values.", className="lead"),
                ],
                className="card-head",
            ),
            html.Div(
                html.Table(
                    [html.Thead(html.Tr(head)), html.Tbody(rows)],
                    className="typed",
                ),
                className="scroll",
            ),
            html.Ul([html.Li(x) for x in said], className="looks") if said else None,
            html.P("Confirmed.", className="soft")
            if sure
            else main_button("These columns are right", id="log-sure"),
        ],
        className="card",
        **attributes(aria_label="What the columns mean"),
    )


def _column(quantity: str, column: Any, look: Look) -> Any:
    dialect = look.dialect
    called = _called(quantity)
    kind = QUANTITIES[quantity].kind
    first = ""
    if dialect is not None and column is not None:
        first = ", ".join(
            row[column.index] for row in dialect.sample[:3] if column.index < len(row)
        )
    if dialect is None:
        cells = [html.Td(column.name if column else NONE), html.Td(column.unit if column else NONE)]
    else:
        cells = [
            html.Td(
                dmc.Select(
                    data=[NO_COLUMN, *dialect.names],
                    value=NO_COLUMN if column is None else column.name,
                    id=column_name(quantity, "name"),
                    allowDeselect=False,
                    size="xs",
                    **attributes(aria_label=f"Column of {called}"),
                )
            ),
            html.Td(
                dmc.Select(
                    data=[{"value": u, "label": WRITTEN.get(u, u)} for u in unit_choices(kind)],
                    value=None if column is None else usual_unit(kind, column.unit),
                    id=column_name(quantity, "unit"),
                    disabled=column is None,
                    size="xs",
                    **attributes(aria_label=f"Unit of {called}"),
                )
            ),
        ]
    return html.Tr([html.Th(called, scope="row"), *cells, html.Td(first, className="soft")])


def unit_choices(kind: str) -> list[str]:
    """One spelling of each unit of a kind of quantity."""
    return list(dict.fromkeys(usual_unit(kind, unit) for unit in UNITS[kind]))


def usual_unit(kind: str, unit: str) -> str:
    """The first of all spellings of a unit; clock times are a unit of their own."""
    if unit == CLOCK_UNIT:
        return unit
    factor = UNITS[kind][unit.lower()]
    return next(u for u, f in UNITS[kind].items() if f == factor)


def _called(quantity: str) -> str:
    return NAMES.get(quantity, quantity)


def splits_table(before: Overlay, after: Overlay | None, *, mph: bool) -> Any:
    """Splits side by side: measured, the job's, and the corrected job's."""
    head = ["Split", "Measured", "±", "The job", "off by"]
    head += ["Corrected", "off by"] if after is not None else []
    rows = []
    for k, old in enumerate(before.splits):
        new = None if after is None else after.splits[k]
        if np.isfinite(old.measured):
            rows.append(_split(old, new, mph=mph))
    return numbers_table(head, rows, "Splits of the run; “off by” is measured less predicted")


def _split(old: Split, new: Split | None, *, mph: bool) -> list[str]:
    by_speed = old.kind == "speed at distance"
    per, unit = ((MPH, "mph") if mph else (KMH, "km/h")) if by_speed else (1.0, "s")
    name = f"at {split_name(old)}" if by_speed else split_name(old, mph=mph)
    latest = old if new is None else new
    row = [
        f"{name}, {unit}",
        number(latest.measured / per, 2),
        number(latest.uncertainty / per, 2),
    ]
    for one in (old, new):
        if one is not None:
            row += [number(one.predicted / per, 2), signed(one.difference / per, 2)]
    return row


def fit_card(move: Sequence[str], waiting: Any) -> Any:
    """What may move, and the button; what was found goes into ``log-found``.

    Args:
        move: Words of what may move.
        waiting: The place that says how far it is.
    """
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Correct the job"),
                    html.P(
                        "Choose what you are least sure of; it is moved until the prediction "
                        "meets the log.",
                        className="lead",
                    ),
                ],
                className="card-head",
            ),
            html.Div(
                [
                    html.Div(
                        dmc.MultiSelect(
                            label="What may move",
                            data=[{"value": w, "label": m.meaning} for w, m in MOVABLE.items()],
                            value=list(move),
                            id={"type": "log", "key": "move"},
                            maxValues=6,
                            size="xs",
                        ),
                        className="wide",
                    ),
                    main_button("Fit", id="log-fit"),
                ],
                className="buttons",
            ),
            waiting,
            html.Div(id="log-found"),
        ],
        className="card",
        **attributes(aria_label="Correct the job"),
    )


def found_table(seen: Seen) -> Any:
    """Values with their intervals, what cannot be told apart, and what becomes of the job."""
    found = seen.found
    if found is None:
        return None
    made = [numbers_table(_HEAD, _rows(found), "Within the intervals in 95 of 100 such runs")]
    if len(found.parameters) > 1:
        names = [p.name for p in found.parameters]
        rows = [
            [name, *(signed(x, 2) for x in found.correlation[k])] for k, name in enumerate(names)
        ]
        made.append(
            html.Details(
                [
                    html.Summary(html.Span("How alike their effects are")),
                    numbers_table(("Correlation", *names), rows, "±1: cannot be told apart"),
                ],
                className="opening",
            )
        )
    if found.words:
        made.append(html.Ul([html.Li(unbroken(x)) for x in found.words], className="looks"))
    made.append(
        html.Div(
            [
                main_button("Open the corrected job here", id="log-take"),
                plain_button("Save it as a new file", id="log-save"),
            ],
            className="buttons",
        )
    )
    made.append(
        html.P(
            "The old job stays: Undo brings it back, and its file is not touched. Intervals hold "
            "if everything that was not moved is as the job says.",
            className="soft",
        )
    )
    return made


_HEAD = ("Moved", "Was", "Is", "±", "95 % from", "to", "Drawn again, from", "to")


def _rows(found: Fit) -> list[list[str]]:
    low, high = found.drawn_interval()
    return [
        [
            p.name,
            digits(p.start, 4),
            digits(float(found.values[k]), 4),
            digits(float(found.uncertainty[k]), 2),
            *(digits(float(x), 3) for x in (found.low[k], found.high[k], low[k], high[k])),
        ]
        for k, p in enumerate(found.parameters)
    ]
