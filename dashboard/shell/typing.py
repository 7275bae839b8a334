"""What is being typed: drawn at once, and the job with it, ahead of the page's own callbacks."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import Any

from dash import Dash
from flask import Flask, Response, abort, request
from plotly.utils import PlotlyJSONEncoder

from dashboard.answers.ahead import look_ahead
from dashboard.answers.setups import compare
from dashboard.pages.which_pack import page as which_pack
from dashboard.shell.beside import doubted
from dashboard.shell.editing import attempt, edit_part, edit_row
from dashboard.shell.together import group_of, together
from dashboard.state.session import Session, View, read_session

EDITS = {"field": edit_part, "row": edit_row}


def register(app: Dash) -> None:
    """Answer what the browser asks while somebody types.

    It tells where, what, how the job is looked at, the first page's axis of speed if that page is
    open, and the value that one more step of the same size would give. It is told the job with that
    in it, what is wrong with it, and what moves in the plots.
    """
    server: Flask = app.server

    @server.post("/typed")
    def typed() -> Response:
        look_ahead()
        try:
            asked = _Typed.of(request.get_json())
            changed, error, also = asked.taken()
        except (AttributeError, KeyError, TypeError, ValueError, OverflowError):
            abort(400)
        compared = compare(changed)
        session = None if changed is asked.session else changed.data()
        told: dict[str, Any] = {"session": session, "error": error}
        if also:
            told["also"] = also
        if asked.last is not None:
            told |= which_pack.moved(compared, asked.view, asked.last)
            look_ahead(
                lambda: which_pack.answer(compared, asked.view),
                lambda: which_pack.columns(compared, asked.view),
                lambda: compare(asked.with_value(asked.next)[0]),
            )
        return Response(json.dumps(told, cls=PlotlyJSONEncoder), mimetype="application/json")


@dataclass(frozen=True)
class _Typed:
    """What the browser tells; ``last`` is None where the first page is not open.

    ``stands`` is what stands in each field of the form.
    """

    session: Session
    view: View
    where: dict[str, Any]
    value: str
    next: str
    last: float | None
    stands: list[tuple[dict[str, Any], str]]

    @classmethod
    def of(cls, told: Any) -> _Typed:
        """From the request.

        Raises:
            AttributeError, KeyError, TypeError, ValueError: if it is none that the page sends.
        """
        where, last = dict(told["where"]), told["last"]
        if type(where.get("slot", 0)) is not int:
            raise TypeError("a row has a whole number")
        return cls(
            read_session(told["session"]),
            View.parse(told["view"]),
            where,
            _text(told["value"]),
            # After a field that was empty there is no step to go on with.
            "" if told["next"] is None else _text(told["next"]),
            None if last is None else float(last),
            [(dict(field), _text(value)) for field, value in told.get("stands", [])],
        )

    def with_value(self, value: str) -> tuple[Session, str | None]:
        """The job with a value, or as it was and why that is not allowed."""
        edit = EDITS[self.where["type"]]
        return attempt(self.session, edit, self.where, value, self.view.units)

    def taken(self) -> tuple[Session, str | None, list[Any]]:
        """The job with what was typed, what is said of it, and of each field taken with it.

        What is not right alone is taken with the fields that go with it, as they stand.
        """
        alone, error = self.with_value(self.value)
        if alone is not self.session or not error:
            return alone, error, []
        both = together(self.session, self.where, self.stands, self.view.units)
        if both is self.session:
            return both, error, []
        fields = [{**self.where, "key": key} for key in group_of(self.where)]
        said = [(one, doubted(both, one, self.view.units) or None) for one in fields]
        own = next(doubt for one, doubt in said if one == self.where)
        return both, own, [pair for pair in said if pair[0] != self.where]


def _text(value: Any) -> str:
    """What was typed.

    Raises:
        TypeError: if it is none that an input gives.
    """
    if not isinstance(value, str | int | float) or (
        isinstance(value, float) and not math.isfinite(value)
    ):
        raise TypeError("an input holds a text or a number")
    return str(value)
