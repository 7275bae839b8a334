"""From the job to the page: the answer, the table of setups, the page; theme, units, memory."""

from __future__ import annotations

from functools import partial
from typing import Any

from dash import ALL, Dash, Input, Output, State, no_update
from dash.exceptions import PreventUpdate

from dashboard.answers.setups import read
from dashboard.base import ids
from dashboard.shell.registry import page_at
from dashboard.shell.shell import answered, badge, bodied, navigation
from dashboard.widgets import setups_table as table
from dashboard.widgets.in_browser import in_browser
from dashboard.widgets.listed import listed

UNITS = {"type": "unit", "name": ALL, "usual": ALL}


def register(app: Dash) -> None:
    """Wire the shell."""

    @app.callback(
        Output(ids.PAGE, "data"),
        Output(ids.PAGE_BODY, "children"),
        Output("pages", "children"),
        Input(ids.URL, "pathname"),
        State(ids.PAGE, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def open_page(path: str, shown: str, session: Any, view: Any) -> tuple[Any, Any, Any]:
        page = page_at(path)
        if page.path == shown:
            raise PreventUpdate
        return page.path, bodied(page, *read(session, view)), navigation(page.path)

    @app.callback(
        Output(ids.PAGE_BODY, "children", allow_duplicate=True),
        Input(ids.KEPT, "data"),
        State(ids.PAGE, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def show_kept(_kept: bool, path: str, session: Any, view: Any) -> Any:
        # The page was sent before this browser said what had been typed and chosen on it.
        return bodied(page_at(path), *read(session, view))

    # One callback: the browser takes longer to ask for two than the server to answer one.
    @app.callback(
        Output(ids.PAGE_ANSWER, "children"),
        Output(ids.TITLE, "children"),
        Output(ids.BADGE, "children"),
        Output(ids.paint(ids.SETUPS), "data"),
        Output(ids.paint(ids.CELLS), "data"),
        Output(ids.DRAWN, "data"),
        Output(ids.LISTED, "children"),
        Input(ids.SETTLED, "data"),
        Input(ids.PAGE, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        State(ids.DRAWN, "data"),
        prevent_initial_call=True,
    )
    def said(_rested: int, path: str, session: Any, view: Any, drawn: Any) -> tuple[Any, ...]:
        compared, looked = read(session, view)
        page = page_at(path)
        columns = page.columns(compared, looked)
        now = table.structure(compared.session, looked.units)
        # What is being typed stays where only results changed.
        same = drawn == now and not (isinstance(session, dict) and session.get("whole"))
        return (
            answered(page, compared, looked),
            compared.job.title,
            badge(compared.session),
            no_update if same else table.setups_table(compared.session, looked.units),
            table.cells(compared, columns),
            no_update if same else now,
            no_update if same else listed(compared.session),
        )

    _in_the_browser(app)


def _in_the_browser(app: Dash) -> None:
    client = partial(in_browser, app, "rimforce")
    client(
        "boot",
        Output(ids.SESSION, "data"),
        Output(ids.VIEW, "data"),
        Output(UNITS, "value"),
        Output(ids.KEPT, "data"),
        Input(ids.SERVED, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        State(UNITS, "id"),
        first=True,
    )
    client("paint", Input({"type": "paint", "key": ALL}, "data"), first=True)
    client(
        "unit",
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input(UNITS, "value"),
        State(UNITS, "id"),
        State(ids.VIEW, "data"),
    )
    client(
        "settle",
        Output(ids.SETTLED, "data"),
        Input(ids.SESSION, "data"),
        Input(ids.VIEW, "data"),
        State(ids.EDITING, "data"),
    )
    client("watch", Input(ids.PAGE_BODY, "children"), first=True)
    client("theme", Input(ids.THEME, "n_clicks"))
    client(
        "travel",
        Output(ids.SESSION, "data", allow_duplicate=True),
        Input(ids.UNDO, "n_clicks"),
        Input(ids.REDO, "n_clicks"),
    )
    client(
        "reset",
        Output(ids.SESSION, "data", allow_duplicate=True),
        Input(ids.RESET, "n_clicks"),
        State(ids.SERVED, "data"),
    )
