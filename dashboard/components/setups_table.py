"""The table of setups: a row each, parts and state edited in place, what comes of it beside."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import html

from dashboard import ids
from dashboard.components.marks import icon, swatch
from dashboard.results import Comparison, Reading
from dashboard.state import Session


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


def setups_table(compared: Comparison, columns: Sequence[Column]) -> Any:
    """The whole table."""
    return html.Table(
        [
            html.Caption("Setups compared", className="hidden"),
            html.Thead(html.Tr(_heads(columns), role="row"), role="rowgroup"),
            html.Tbody(rows(compared, columns), id=ids.SETUPS_BODY, role="rowgroup"),
        ],
        className="setups",
        role="table",
    )


def rows(compared: Comparison, columns: Sequence[Column]) -> list[Any]:
    """A row for every setup."""
    return [
        html.Tr(
            [*_editors(compared.session, r), *cells(r, compared.reference, columns)],
            role="row",
            className="" if r.shown else "hidden-setup",
            key=str(r.slot),
        )
        for r in compared.readings
    ]


def cells(reading: Reading, reference: Reading | None, columns: Sequence[Column]) -> list[Any]:
    """The results in a row; they alone change while a number is edited."""
    against = None if reference is reading else reference
    return [
        html.Td(
            [
                html.Span(c.head, className="cell-head", **{"aria-hidden": "true"}),
                html.Div(c.cell(reading, against), className="cell"),
            ],
            className=c.kind,
            role="cell",
        )
        for c in columns
    ]


EDITORS = 3
"""Cells of a row before its results."""


def structure(session: Session, columns: Sequence[Column]) -> list[Any]:
    """What must be equal for results alone to be sent."""
    job = session.job
    setups = [setup.model_dump(include={"name", "pack", "tune"}) for setup in job.setup]
    return [
        list(session.slots),
        sorted(session.hidden),
        session.reference,
        setups,
        list(job.pack),
        list(job.tune),
        [[c.key, c.head] for c in columns],
    ]


def _heads(columns: Sequence[Column]) -> list[Any]:
    fixed = (("Setup", ""), ("Pack and tune", ""), ("Charge, winding", ""))
    heads = [html.Th(text, scope="col", role="columnheader") for text, _ in fixed]
    return heads + [
        html.Th(c.head, scope="col", role="columnheader", title=c.meaning, className=c.kind)
        for c in columns
    ]


def _editors(session: Session, r: Reading) -> list[Any]:
    at = session.index(r.slot)
    setup = session.job.setup[at]
    who = f"of {setup.name}"
    delivered = session.reference == r.slot
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
                **{"aria-label": f"Name {who}"},
            ),
        ],
        className="who",
    )
    tools = html.Div(
        [
            dmc.ActionIcon(
                icon("eye" if r.shown else "eye-off"),
                id=ids.act(r.slot, "toggle"),
                variant="subtle",
                size="sm",
                **{
                    "aria-label": f"{'Hide' if r.shown else 'Show'} {setup.name} in the plots",
                    "aria-pressed": "true" if r.shown else "false",
                },
            ),
            dmc.ActionIcon(
                icon("copy"),
                id=ids.act(r.slot, "duplicate"),
                variant="subtle",
                size="sm",
                **{"aria-label": f"Duplicate {setup.name}"},
            ),
            dmc.ActionIcon(
                icon("remove"),
                id=ids.act(r.slot, "remove"),
                variant="subtle",
                size="sm",
                disabled=len(session.slots) == 1,
                **{"aria-label": f"Remove {setup.name}"},
            ),
            html.Span("others compare to it", className="delivered")
            if delivered
            else dmc.Button(
                "compare to this",
                id=ids.act(r.slot, "delivered"),
                variant="subtle",
                size="compact-xs",
                **{"aria-label": f"Show differences to {setup.name}"},
            ),
        ],
        className="tools",
    )
    return [
        html.Th([name, tools], scope="row", role="rowheader", className="first"),
        html.Td(
            [_part(session, r, "pack"), _part(session, r, "tune")], role="cell", className="parts"
        ),
        html.Td(_state(r, setup), role="cell", className="state"),
    ]


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
            dmc.ActionIcon(
                icon("edit"),
                id=ids.act(r.slot, f"edit-{part}"),
                variant="subtle",
                size="sm",
                **{"aria-label": f"Edit {part} {value}"},
            ),
        ],
        className="part",
    )


def _state(r: Reading, setup: Any) -> list[Any]:
    charge = dmc.NumberInput(
        value=round(100 * setup.state_of_charge, 6),
        id=ids.row(r.slot, "state_of_charge"),
        suffix=" %",
        min=0,
        max=100,
        step=10,
        clampBehavior="none",
        size="xs",
        **{"aria-label": f"Charge of {setup.name}, percent"},
    )
    winding = dmc.NumberInput(
        value=setup.winding_c,
        id=ids.row(r.slot, "winding_c"),
        suffix=" °C",
        step=10,
        clampBehavior="none",
        size="xs",
        **{"aria-label": f"Winding temperature of {setup.name}, degrees Celsius"},
    )
    return [charge, winding]
