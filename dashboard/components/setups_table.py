"""The table of setups: a row each, parts and state edited in place, what comes of it beside."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import html

from curves.units import Units
from dashboard import ids
from dashboard.components.fields import shown
from dashboard.components.marks import act, swatch
from dashboard.components.paint import painted, place
from dashboard.components.terms import what
from dashboard.results import Comparison, Reading
from dashboard.state import Session

HEADS = "heads"
"""The row of headings, for the browser to paint."""


@dataclass(frozen=True)
class Column:
    """A column of results.

    Attributes:
        key: Names it.
        head: Heading.
        meaning: What it is, shown on hover.
        cell: What stands in it, for a setup and the setup it is compared to (or None).
        kind: ``number``, ``words`` or ``pinned``: decides width and alignment.
    """

    key: str
    head: str
    meaning: str
    cell: Callable[[Reading, Reading | None], Any]
    kind: str = "number"


def setups_table(compared: Comparison, units: Units) -> Any:
    """The whole table."""
    return html.Table(
        [
            html.Caption("Setups compared", className="hidden"),
            html.Thead(html.Tr(role="row", **place(HEADS)), role="rowgroup"),
            html.Tbody(_rows(compared, units), role="rowgroup"),
        ],
        className="setups",
        role="table",
    )


def _rows(compared: Comparison, units: Units) -> list[Any]:
    """A row for every setup, its results left to be painted."""
    return [
        html.Tr(
            _editors(compared.session, r, units),
            role="row",
            className="" if r.shown else "hidden-setup",
            key=str(r.slot),
            **place(f"row {r.slot}"),
        )
        for r in compared.readings
    ]


def cells(compared: Comparison, columns: Sequence[Column]) -> dict[str, Any]:
    """The heads, and the results and buttons of every row, for the browser to paint together.

    Args:
        compared: The setups.
        columns: The page's.
    """
    reference = compared.reference
    made = {HEADS: painted(_heads(columns))}
    for r in compared.readings:
        against = None if r is reference else reference
        made[f"row {r.slot}"] = painted([_result(c, r, against) for c in columns])
        made[f"tools {r.slot}"] = painted(_tools(compared.session, r))
    return made


def _result(column: Column, r: Reading, against: Reading | None) -> Any:
    return html.Td(
        html.Div(column.cell(r, against), className="cell"),
        className=column.kind,
        role="cell",
    )


def structure(session: Session, units: Units) -> list[Any]:
    """What must be equal for results alone to be painted."""
    job = session.job
    setups = [setup.model_dump(include={"name", "pack", "tune"}) for setup in job.setup]
    return [
        list(session.slots),
        sorted(session.hidden),
        session.reference,
        setups,
        list(job.pack),
        list(job.tune),
        units.name("°C"),
    ]


def _heads(columns: Sequence[Column]) -> list[Any]:
    fixed = (("Setup", ""), ("Pack and tune", ""), ("Charge, winding", ""))
    heads = [html.Th(text, scope="col", role="columnheader") for text, _ in fixed]
    return heads + [
        html.Th(
            what(c.head, c.key),
            scope="col",
            role="columnheader",
            title=c.meaning,
            className=c.kind,
        )
        for c in columns
    ]


def _editors(session: Session, r: Reading, units: Units) -> list[Any]:
    at = session.index(r.slot)
    setup = session.job.setup[at]
    name = html.Div(
        [
            swatch(r.slot),
            dmc.TextInput(
                value=setup.name,
                id=ids.row(r.slot, "name"),
                variant="unstyled",
                debounce=500,
                className="name",
                size="sm",
                **{"aria-label": f"Name of {setup.name}"},
            ),
        ],
        className="who",
    )
    tools = html.Div(className="tools", **place(f"tools {r.slot}"))
    return [
        html.Th([name, tools], scope="row", role="rowheader", className="first"),
        html.Td(
            [_part(session, r, "pack"), _part(session, r, "tune")], role="cell", className="parts"
        ),
        html.Td(_state(r, setup, units), role="cell", className="state"),
    ]


def _tools(session: Session, r: Reading) -> list[Any]:
    verb = "Hide" if r.shown else "Show"
    told = f"{verb} {r.name} in the plots"
    buttons = [
        act("eye" if r.shown else "eye-off", r.slot, "toggle", told),
        act("edit", r.slot, "edit-setup", f"Edit setup {r.name}"),
        act("copy", r.slot, "duplicate", f"Duplicate {r.name}"),
    ]
    if len(session.slots) > 1:
        buttons.append(act("remove", r.slot, "remove", f"Remove {r.name}"))
    if session.reference == r.slot:
        return [*buttons, html.Span("others compare to it", className="delivered")]
    said = f"Show differences to {r.name}"
    return [*buttons, act("", r.slot, "delivered", said, "compare to this")]


def _part(session: Session, r: Reading, part: str) -> Any:
    setup = session.job.setup[session.index(r.slot)]
    value = getattr(setup, part)
    return html.Div(
        [
            dmc.Select(
                value=value,
                data=list(getattr(session.job, part)),
                id=ids.row(r.slot, part),
                size="xs",
                allowDeselect=False,
                comboboxProps={"width": "max-content", "position": "bottom-start"},
                **{"aria-label": f"{part.capitalize()} of {setup.name}"},
            ),
            act("edit", r.slot, f"edit-{part}", f"Edit {part} {value}"),
        ],
        className="part",
    )


def _state(r: Reading, setup: Any, units: Units) -> list[Any]:
    charge = dmc.NumberInput(
        value=round(100 * setup.state_of_charge, 6),
        id=ids.row(r.slot, "state_of_charge"),
        suffix=" %",
        min=0,
        max=100,
        step=10,
        clampBehavior="none",
        debounce=True,
        size="xs",
        **{"aria-label": f"Charge of {setup.name}, percent"},
    )
    unit = units.name("°C")
    winding = dmc.NumberInput(
        value=shown(setup.winding_c, "°C", units),
        id=ids.row(r.slot, "winding_c"),
        suffix=f" {unit}",
        step=10,
        clampBehavior="none",
        debounce=True,
        size="xs",
        **{"aria-label": f"Winding temperature of {setup.name}, {unit}"},
    )
    return [charge, winding]
