"""Figure cards that follow the job: their plot, their sentence, and the numbers behind them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from dash import Dash, Input, Output, State
from dash.exceptions import PreventUpdate

from curves.present.table import Table
from dashboard.answers.setups import Comparison, read
from dashboard.base import ids
from dashboard.state.session import View
from dashboard.widgets.figure_card import numbers_table

_told: dict[str, Callable[[Comparison, View], Table]] = {}
"""Of every card, the numbers behind its plot."""


def tell(key: str, numbers: Callable[[Comparison, View], Table]) -> None:
    """Let the numbers behind a card's plot be carried away with its page.

    Args:
        key: The card's name.
        numbers: Headings, rows and caption of its table.
    """
    _told[key] = numbers


def numbers_behind(keys: Sequence[object], compared: Comparison, view: View) -> list[Table]:
    """The numbers behind the plots of some cards, of those that are known."""
    known = [key for key in keys if isinstance(key, str) and key in _told]
    return [_told[key](compared, view) for key in known]


def follow(
    app: Dash,
    key: str,
    draw: Callable[[Comparison, View], dict[str, Any]],
    numbers: Callable[[Comparison, View], Table],
) -> None:
    """Redraw a card's plot when job or view have rested, and its table while it is open.

    Args:
        app: The app.
        key: The card's name.
        draw: Its figure.
        numbers: Headings, rows and caption of its table.
    """
    tell(key, numbers)
    kept = (State(ids.SESSION, "data"), State(ids.VIEW, "data"))

    @app.callback(
        Output(ids.figure(key), "figure"),
        Output(ids.figure(key), "style"),
        Input(ids.SETTLED, "data"),
        *kept,
        prevent_initial_call=True,
    )
    def figure(_rested: int, session: Any, view: Any) -> tuple[Any, Any]:
        made = draw(*read(session, view))
        return made, {"height": f"{made['layout']['height']}px"}

    @app.callback(
        Output(ids.numbers_body(key), "children"),
        Input(ids.numbers(key), "value"),
        Input(ids.SETTLED, "data"),
        *kept,
        prevent_initial_call=True,
    )
    def table(opened: Any, _rested: int, session: Any, view: Any) -> Any:
        if not opened:
            raise PreventUpdate
        return numbers_table(*numbers(*read(session, view)))
