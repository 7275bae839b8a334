"""What is carried away, and a link that is opened."""

from __future__ import annotations

import re
from typing import Any

from dash import Dash, Input, Output, State, no_update
from dash.exceptions import PreventUpdate

from curves import JobError
from dashboard.answers.setups import read
from dashboard.base import ids
from dashboard.pages.which_pack import tables
from dashboard.shell import carried
from dashboard.shell.registry import page_at
from dashboard.state.session import Session
from dashboard.widgets.follow import numbers_behind
from dashboard.widgets.in_browser import in_browser

KEPT = (State(ids.SESSION, "data"), State(ids.VIEW, "data"))


def register(app: Dash) -> None:
    """Wire numbers and links; figures are the browser's alone."""
    _numbers(app)
    _page(app)
    _links(app)


def _numbers(app: Dash) -> None:
    @app.callback(
        Output(ids.DOWNLOAD, "data", allow_duplicate=True),
        Input(ids.SHARE_CSV, "n_clicks"),
        *KEPT,
        prevent_initial_call=True,
    )
    def spreadsheet(clicks: Any, session: Any, view: Any) -> dict[str, str]:
        if not clicks:
            raise PreventUpdate
        compared, looked = read(session, view)
        content = tables.as_csv(compared.shown, looked.units)
        return {"content": content, "filename": "over-road-speed.csv"}

    @app.callback(
        Output(ids.DOWNLOAD, "data", allow_duplicate=True),
        Input(ids.SHARE_JSON, "n_clicks"),
        *KEPT,
        prevent_initial_call=True,
    )
    def programs(clicks: Any, session: Any, view: Any) -> dict[str, str]:
        if not clicks:
            raise PreventUpdate
        content = tables.as_json(read(session, view)[0].shown)
        return {"content": content, "filename": "over-road-speed.json"}


def _page(app: Dash) -> None:
    in_browser(
        app,
        "rimforceShare",
        "gather",
        Output(ids.SHARE_PAGE, "data"),
        Input(ids.SHARE_PAGE_CSV, "n_clicks"),
        Input(ids.SHARE_PAGE_JSON, "n_clicks"),
    )
    in_browser(
        app,
        "rimforceShare",
        "saved",
        Output(ids.SHARE_SAID, "children"),
        Input(ids.DOWNLOAD, "data"),
    )

    @app.callback(
        Output(ids.DOWNLOAD, "data", allow_duplicate=True),
        Input(ids.SHARE_PAGE, "data"),
        State(ids.PAGE, "data"),
        *KEPT,
        prevent_initial_call=True,
    )
    def page_tables(asked: Any, path: str, session: Any, view: Any) -> dict[str, str]:
        if not isinstance(asked, dict):
            raise PreventUpdate
        compared, looked = read(session, view)
        page = page_at(path)
        found = [
            carried.setups(compared, page.columns(compared, looked)),
            *numbers_behind(asked["cards"], compared, looked),
            *carried.sent(asked["tables"]),
        ]
        name = "-".join(re.findall(r"[a-z0-9]+", page.title.lower()))
        if asked["as"] == ids.SHARE_PAGE_CSV:
            return {"content": carried.as_csv(found), "filename": f"{name}.csv"}
        content = carried.as_json(page.title, compared.job.title, found)
        return {"content": content, "filename": f"{name}.json"}


def _links(app: Dash) -> None:
    in_browser(
        app,
        "rimforceShare",
        "copy",
        Output(ids.LINK, "value"),
        Output(ids.LINK_SAID, "children"),
        Input(ids.LINK_COPY, "n_clicks"),
        State(ids.SESSION, "data"),
    )
    in_browser(
        app,
        "rimforceShare",
        "paste",
        Output(ids.LINKED, "data"),
        Input(ids.LINK, "value"),
        # Asked once at the start, too: the address itself may carry a job.
        Input(ids.SERVED, "data"),
        first=True,
    )

    @app.callback(
        Output(ids.SESSION, "data", allow_duplicate=True),
        Output(ids.MESSAGE, "children", allow_duplicate=True),
        Input(ids.LINKED, "data"),
        prevent_initial_call=True,
    )
    def linked(found: Any) -> tuple[Any, Any]:
        if not isinstance(found, dict):
            raise PreventUpdate
        if "wrong" in found:
            return no_update, refused(found["wrong"])
        try:
            session = Session.parse(found["session"])
        except JobError as error:
            return no_update, refused(error)
        except (KeyError, TypeError, ValueError):
            return no_update, refused("There is no job in it.")
        opened = f"“{session.job.title}” is open, from the link. Undo brings back what was here."
        return {**session.data(), "whole": True, "step": True}, opened


def refused(why: object) -> str:
    """What is said of a link that is no job; what is on the page stays."""
    return f"That link was not opened; your job is as it was.\n{why}"
