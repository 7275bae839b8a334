"""What goes into a report: words to type and setups to choose, kept in the view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html
from dash.exceptions import PreventUpdate

from dashboard.answers.setups import Comparison, Reading
from dashboard.base import ids
from dashboard.pages.report.study import MOST_STUDIES, Asked, of_cells, today
from dashboard.state.session import View
from dashboard.widgets.attributes import attributes
from dashboard.widgets.patch import keep

FIELDS = tuple(Asked().kept())
SETUPS = ("to_set", "packs", "weakening")
"""Fields that choose setups."""
HEADING = "What goes in"


def form(compared: Comparison, view: View) -> Any:
    """The card to type into."""
    asked = Asked.of(view)
    fields = [
        _words("title", "Question", compared.job.title, asked.title),
        _words("workshop", "Workshop", "whose report it is", asked.workshop),
        _words("date", "Date", "none", today() if asked.date is None else asked.date),
        dmc.Textarea(
            label="Notes",
            placeholder="your own words, above the numbers",
            value=asked.notes,
            id=field("notes"),
            debounce=500,
            size="sm",
            autosize=True,
            minRows=2,
            maxRows=8,
            className="wide",
        ),
        *_setups(compared, asked),
        dmc.Switch(
            label="Heat and range too",
            description="They take most of the time",
            checked=asked.endurance,
            id=field("endurance"),
        ),
    ]
    return html.Section(
        [html.H2(HEADING), html.Div(fields, className="report-form")],
        className="card",
        **attributes(aria_label=HEADING),
    )


def way_there() -> Any:
    """A link to the form, which lies below the whole table, into its first field."""
    return html.A(f"Workshop, notes, {HEADING.lower()}", href=f"#{field(FIELDS[0])}")


def field(name: str) -> str:
    """Id of a field's input."""
    return f"report-{name.replace('_', '-')}"


def choices(compared: Comparison) -> list[list[dict[str, str]]]:
    """What may be chosen in each of ``SETUPS``."""

    def listed(readings: Sequence[Reading]) -> list[dict[str, str]]:
        return [{"value": str(r.slot), "label": r.name} for r in readings]

    every = listed(compared.shown)
    return [every, listed(of_cells(compared)), every]


def _words(name: str, label: str, told: str, value: str) -> Any:
    return dmc.TextInput(
        label=label,
        placeholder=told,
        value=value,
        id=field(name),
        debounce=500,
        size="sm",
    )


def _setups(compared: Comparison, asked: Asked) -> list[Any]:
    labels = {
        "to_set": ("To set in the controller", "all but the one compared to", None),
        "packs": ("Study: how many cells", "none", MOST_STUDIES),
        "weakening": ("Study: field weakening", "none", MOST_STUDIES),
    }
    made = []
    for name, data in zip(SETUPS, choices(compared), strict=True):
        label, told, most = labels[name]
        there = {choice["value"] for choice in data}
        chosen = [str(slot) for slot in getattr(asked, name)]
        made.append(
            dmc.MultiSelect(
                label=label,
                placeholder=told,
                data=data,
                value=[slot for slot in chosen if slot in there],
                id=field(name),
                size="sm",
                clearable=True,
                maxValues=most,
            )
        )
    return made


def register(app: Dash) -> None:
    """Keep what is typed and chosen."""

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        *[Input(field(f), "checked" if f == "endurance" else "value") for f in FIELDS],
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def typed(*given: Any) -> Any:
        *values, data = given
        view = View.parse(data)
        kept = dict(zip(FIELDS, values, strict=True))
        for name in SETUPS:
            slots = kept[name] if isinstance(kept[name], list) else []
            kept[name] = [int(slot) for slot in slots if str(slot).isdecimal()]
        if kept["date"] == today() and Asked.of(view).date is None:
            kept["date"] = None
        now = replace(view, extra={**view.extra, "report": kept})
        if Asked.of(now) == Asked.of(view):
            raise PreventUpdate
        return keep(view, now)
