"""What is carried away, and a link that is opened."""

from __future__ import annotations

from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, no_update
from dash.exceptions import PreventUpdate

from curves import JobError
from dashboard import ids, tables
from dashboard.callbacks.showing import read
from dashboard.state import Session

KEPT = (State(ids.SESSION, "data"), State(ids.VIEW, "data"))


def register(app: Dash) -> None:
    """Wire numbers and links; figures are the browser's alone."""
    _numbers(app)
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


def _links(app: Dash) -> None:
    app.clientside_callback(
        ClientsideFunction("rimforceShare", "copy"),
        Output(ids.LINK, "value"),
        Output(ids.LINK_SAID, "children"),
        Input(ids.LINK_COPY, "n_clicks"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("rimforceShare", "paste"),
        Output(ids.LINKED, "data"),
        Input(ids.LINK, "value"),
        # Asked once at the start, too: the address itself may carry a job.
        Input(ids.SERVED, "data"),
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
