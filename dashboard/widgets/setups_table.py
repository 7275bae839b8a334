"""The table of setups: a row each, parts and state edited in place, what comes of it beside."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from dash import html

from curves.parts.plausible import doubt
from curves.units import Units
from dashboard.answers.setups import Comparison, Reading
from dashboard.base import ids
from dashboard.state.session import Session
from dashboard.widgets.attributes import attributes
from dashboard.widgets.fields import shown
from dashboard.widgets.marks import act, swatch
from dashboard.widgets.paint import entry, painted, place
from dashboard.widgets.terms import what

TABLE = "setups"
"""Where the table is painted."""
HEADS = "heads"
"""The row of headings, for the browser to paint."""


MOST_OFFERED = 100
"""Parts that every row offers; the form of a setup offers all there are."""
LEFT_OUT = "Not drawn, and not worked out where that takes time; the eye shows it again"
"""What it is to be hidden."""


@dataclass(frozen=True)
class Column:
    """A column of results.

    Attributes:
        key: Names it.
        head: Heading.
        meaning: What it is, shown on hover.
        cell: What stands in it, for a setup and the setup it is compared to (or None). None is
            nothing: what a hidden setup has where its page does not work it out.
        kind: ``number``, ``words`` or ``pinned``: decides width and alignment.
    """

    key: str
    head: str
    meaning: str
    cell: Callable[[Reading, Reading | None], Any]
    kind: str = "number"


def setups_table(session: Session, units: Units) -> dict[str, Any]:
    """The whole table, for the browser to paint; heads and results go into it by themselves.

    Args:
        session: The job.
        units: What is read and typed.
    """
    made = html.Table(
        [
            html.Caption("Setups compared", className="hidden"),
            html.Thead(html.Tr(role="row", **place(HEADS)), role="rowgroup"),
            html.Tbody([_row(session, slot, units) for slot in session.listed], role="rowgroup"),
        ],
        className="setups",
        role="table",
    )
    return {TABLE: painted(made)}


def _row(session: Session, slot: int, units: Units) -> Any:
    return html.Tr(
        _editors(session, slot, units),
        role="row",
        className="hidden-setup" if slot in session.hidden else "",
        **place(f"row {slot}"),
    )


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
        **attributes(data_column=column.key),
    )


def structure(session: Session, units: Units) -> list[Any]:
    """What must be equal for results alone to be painted."""
    job, rows = session.job, session.listed
    setups = [
        setup.model_dump(include={"name", "pack", "tune"})
        for slot, setup in zip(session.slots, job.setup, strict=True)
        if slot in rows
    ]
    return [
        list(rows),
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
            **attributes(data_column=c.key),
        )
        for c in columns
    ]


def _editors(session: Session, slot: int, units: Units) -> list[Any]:
    setup = session.job.setup[session.index(slot)]
    told = f"Name of {setup.name}"
    name = entry(told, ids.row(slot, "name"), setup.name, type="text")
    tools = html.Div(className="tools", **place(f"tools {slot}"))
    who = html.Div([swatch(slot), name], className="who")
    parts = [_part(session, slot, part) for part in ("pack", "tune")]
    return [
        html.Th([who, tools], scope="row", role="rowheader", className="first"),
        html.Td(parts, role="cell", className="parts"),
        html.Td(_state(slot, setup, units), role="cell", className="state"),
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
    if not r.shown:
        buttons.append(html.Span("hidden", title=LEFT_OUT, className="delivered"))
    if session.reference == r.slot:
        return [*buttons, html.Span("others compare to it", className="delivered")]
    said = f"Show differences to {r.name}"
    return [*buttons, act("", r.slot, "delivered", said, "compare to this")]


def _part(session: Session, slot: int, part: str) -> Any:
    setup = session.job.setup[session.index(slot)]
    value = getattr(setup, part)
    told = f"{part.capitalize()} of {setup.name}"
    choice = entry(told, ids.row(slot, part), value, _offered(session, part))
    return html.Div(
        [choice, act("edit", slot, f"edit-{part}", f"Edit {part} {value}")], className="part"
    )


def _offered(session: Session, part: str) -> list[str]:
    """Parts that a row may be given: all, or where there are many those of the page's setups."""
    known = list(getattr(session.job, part))
    if len(known) <= MOST_OFFERED:
        return known
    setups = zip(session.slots, session.job.setup, strict=True)
    on_page = {getattr(setup, part) for slot, setup in setups if slot in session.listed}
    return [name for name in known if name in on_page]


def _state(slot: int, setup: Any, units: Units) -> list[Any]:
    unit = units.name("°C")
    full = round(100 * setup.state_of_charge, 6)
    warm = shown(setup.winding_c, "°C", units)
    charge, winding = ids.row(slot, "state_of_charge"), ids.row(slot, "winding_c")
    odd = doubt(type(setup), "winding_c", setup.winding_c, units)
    return [
        _number(charge, f"Charge of {setup.name}, percent", full, "%", min=0, max=100),
        _number(winding, f"Winding temperature of {setup.name}, {unit}", warm, unit, odd),
    ]


def _number(
    where: dict[str, Any], told: str, value: float, unit: str, odd: str = "", **bounds: float
) -> Any:
    typed = entry(told, where, f"{value:.9g}", (), type="number", step=10, **bounds)
    said = [html.Span(odd, className="wrong", role="alert")] if odd else []
    return html.Div(
        [typed, html.Span(unit, **attributes(aria_hidden="true")), *said], className="entry"
    )
