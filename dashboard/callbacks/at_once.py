"""What is being typed, drawn at once: the page's own callbacks follow when typing rests."""

from __future__ import annotations

import json
from typing import Any

from dash import Dash
from flask import Response, abort, request
from plotly.utils import PlotlyJSONEncoder

from curves import JobError
from curves.units import Units
from dashboard.callbacks.editing import edit_part, edit_row
from dashboard.pages import which_pack
from dashboard.results import compare
from dashboard.state import Session, View, read_session

EDITS = {"field": edit_part, "row": edit_row}


def register(app: Dash) -> None:
    """Answer what the browser asks while somebody types."""

    @app.server.post("/typed")
    def typed() -> Response:
        asked = request.get_json()
        try:
            session, view = read_session(asked["session"]), View.parse(asked["view"])
            where, value, last = dict(asked["where"]), str(asked["value"]), float(asked["last"])
            edit = EDITS[where["type"]]
        except (KeyError, TypeError, ValueError, AttributeError):
            abort(400)
        changed = _edited(session, edit, where, value, view.units)
        moved = which_pack.moved(compare(changed), view, last)
        return Response(json.dumps(moved, cls=PlotlyJSONEncoder), mimetype="application/json")


def _edited(session: Session, edit: Any, where: dict[str, Any], value: str, units: Units) -> Any:
    """With what was typed; as it was where that is not allowed: its field says why not."""
    try:
        return edit(session, where, value, units)
    except (JobError, KeyError, TypeError, ValueError):
        return session
