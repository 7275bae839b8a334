"""The setup that a study is about, chosen on its page and kept in the view."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, no_update
from dash.exceptions import PreventUpdate

from dashboard.answers.setups import Comparison, Reading, read
from dashboard.base import ids
from dashboard.state.session import View
from dashboard.widgets.patch import keep


def kept(view: View, page: str) -> Mapping[str, Any]:
    """What a page keeps of its own."""
    found = view.extra.get(page, {})
    return found if isinstance(found, dict) else {}


def chosen(compared: Comparison, view: View, page: str, *, hidden: bool = True) -> Reading | None:
    """The setup a page is about: the one chosen, hidden or not, or the first that is shown.

    Args:
        compared: The setups; where all of them are hidden it is about none.
        view: What is chosen.
        page: Name of the page.
        hidden: Whether a hidden one may be chosen.
    """
    slot = kept(view, page).get("slot")
    shown = compared.shown
    usual = compared.reference if compared.reference in shown else next(iter(shown), None)
    known = compared.readings if hidden and shown else shown
    return next((r for r in known if r.slot == slot), usual)


def choice(
    compared: Comparison,
    page: str,
    now: Reading | None,
    label: str = "Setup looked at",
    *,
    hidden: bool = True,
) -> Any:
    """The control that chooses it.

    Args:
        compared: The setups.
        page: Name of the page.
        now: What it is about.
        label: Above the control.
        hidden: Whether a hidden one may be chosen.
    """
    return dmc.Select(
        label=label,
        data=_offered(compared, hidden),
        value=_value(now),
        id=_name(page),
        # What it stood at when it was made: a choice is what differs from that.
        name=_value(now),
        allowDeselect=False,
        size="xs",
    )


def _offered(compared: Comparison, hidden: bool) -> list[dict[str, Any]]:
    """Every setup, the hidden ones marked, and those that may not be chosen with the way to."""
    may = hidden and bool(compared.shown)
    mark = "(hidden)" if may else "(hidden: show it to choose it)"
    return [
        {"value": str(r.slot), "label": r.name}
        if r.shown
        else {"value": str(r.slot), "label": f"{r.name} {mark}", "disabled": not may}
        for r in compared.readings
    ]


def _value(now: Reading | None) -> str | None:
    return None if now is None else str(now.slot)


def _name(page: str) -> dict[str, str]:
    return {"type": "choice", "page": page}


def register(
    app: Dash,
    page: str,
    now: Callable[[Comparison, View], Reading | None] | None = None,
    *,
    hidden: bool = True,
) -> None:
    """Keep what is chosen, and offer the setups there are.

    Args:
        app: The app.
        page: Name of the page.
        now: What it is about, where that is not ``chosen``.
        hidden: Whether a hidden one may be chosen.
    """

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Output(_name(page), "name"),
        Input(_name(page), "value"),
        State(_name(page), "name"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def choose(slot: Any, made: Any, data: Any) -> Any:
        # A control that appears is no choice: it may be of before the view's last change.
        if slot == made:
            raise PreventUpdate
        view = View.parse(data)
        now = {**kept(view, page), "slot": int(slot)} if str(slot).isdecimal() else None
        if now is None or now == kept(view, page):
            raise PreventUpdate
        return keep(view, replace(view, extra={**view.extra, page: now})), slot

    @app.callback(
        Output(_name(page), "data"),
        Output(_name(page), "value"),
        Output(_name(page), "name", allow_duplicate=True),
        Input(ids.SETTLED, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        State(_name(page), "data"),
        State(_name(page), "value"),
        prevent_initial_call=True,
    )
    def offer(_rested: Any, session: Any, view: Any, shown: Any, value: Any) -> Any:
        compared, looked = read(session, view)
        about = now(compared, looked) if now else chosen(compared, looked, page, hidden=hidden)
        made = _offered(compared, hidden)
        if made == shown and _value(about) == value:
            raise PreventUpdate
        return made, no_update if _value(about) == value else _value(about), _value(about)
