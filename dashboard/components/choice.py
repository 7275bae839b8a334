"""The setup that a study is about, chosen on its page and kept in the view."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State
from dash.exceptions import PreventUpdate

from dashboard import ids
from dashboard.callbacks.keeping import keep
from dashboard.results import Comparison, Reading
from dashboard.state import View


def kept(view: View, page: str) -> Mapping[str, Any]:
    """What a page keeps of its own."""
    found = view.extra.get(page, {})
    return found if isinstance(found, dict) else {}


def chosen(compared: Comparison, view: View, page: str) -> Reading | None:
    """The setup the page is about: the one chosen, or the first that is shown."""
    slot = kept(view, page).get("slot")
    known = compared.shown
    usual = compared.reference if compared.reference in known else next(iter(known), None)
    return next((r for r in known if r.slot == slot), usual)


def choice(compared: Comparison, view: View, page: str) -> Any:
    """The control that chooses it."""
    reading = chosen(compared, view, page)
    return dmc.Select(
        label="Setup looked at",
        data=[{"value": str(r.slot), "label": r.name} for r in compared.shown],
        value=None if reading is None else str(reading.slot),
        id={"type": "choice", "page": page},
        allowDeselect=False,
        size="xs",
    )


def register(app: Dash, page: str) -> None:
    """Keep what is chosen."""

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input({"type": "choice", "page": page}, "value"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def choose(slot: Any, data: Any) -> Any:
        view = View.parse(data)
        now = {**kept(view, page), "slot": int(slot)} if str(slot).isdigit() else None
        if now is None or now == kept(view, page):
            raise PreventUpdate
        return keep(view, replace(view, extra={**view.extra, page: now}))
