"""What is being typed, drawn at once: the page's own callbacks follow when typing rests."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from dash import Dash
from flask import Response, abort, request
from plotly.utils import PlotlyJSONEncoder

from curves import JobError
from dashboard.ahead import look_ahead
from dashboard.callbacks.editing import edit_part, edit_row
from dashboard.pages import which_pack
from dashboard.results import compare
from dashboard.state import Session, View, read_session

EDITS = {"field": edit_part, "row": edit_row}


def register(app: Dash) -> None:
    """Answer what the browser asks while somebody types."""

    @app.server.post("/typed")
    def typed() -> Response:
        try:
            asked = _Typed.of(request.get_json())
        except (AttributeError, KeyError, TypeError, ValueError):
            abort(400)
        compared = compare(asked.with_value(asked.value))
        moved = which_pack.moved(compared, asked.view, asked.last)
        look_ahead(
            lambda: which_pack.answer(compared, asked.view),
            lambda: which_pack.columns(compared, asked.view),
            lambda: compare(asked.with_value(asked.next)),
        )
        return Response(json.dumps(moved, cls=PlotlyJSONEncoder), mimetype="application/json")


@dataclass(frozen=True)
class _Typed:
    """What the browser tells.

    Attributes:
        session: The job without what is being typed.
        view: How it is looked at.
        where: Id of the field.
        value: What stands in it.
        next: What will stand in it after one more step of the same size.
        last: End of the plots' axis of speed.
    """

    session: Session
    view: View
    where: dict[str, Any]
    value: str
    next: str
    last: float

    @classmethod
    def of(cls, told: Any) -> _Typed:
        """From the request.

        Raises:
            AttributeError, KeyError, TypeError, ValueError: if it is none that the page sends.
        """
        where = dict(told["where"])
        if where["type"] not in EDITS:
            raise ValueError(where)
        value, following, last = str(told["value"]), str(told["next"]), float(told["last"])
        session, view = read_session(told["session"]), View.parse(told["view"])
        return cls(session, view, where, value, following, last)

    def with_value(self, value: str) -> Session:
        """The job with a value; as it was where that is not allowed: its field says why not."""
        try:
            edit = EDITS[self.where["type"]]
            return edit(self.session, self.where, value, self.view.units)
        except (JobError, KeyError, TypeError, ValueError):
            return self.session
