"""What a study is asked on its page: choices and numbers, kept in the view under its name."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State
from dash.exceptions import PreventUpdate

from curves.parts.base import LARGEST
from dashboard import ids
from dashboard.components.choice import kept
from dashboard.components.inputs import Input as Varied
from dashboard.state import View

ENDS = ("from", "to")


def name_of(page: str, key: Any) -> dict[str, Any]:
    """The control of one option."""
    return {"type": "option", "page": page, "key": key}


def pick(page: str, key: str, label: str, value: str, data: Sequence[tuple[str, str]]) -> Any:
    """One of several values, each with its words.

    Args:
        page: Name of the page.
        key: What is chosen.
        label: Above the control.
        value: Now.
        data: Values and words.
    """
    return dmc.Select(
        id=name_of(page, key),
        label=label,
        value=value,
        data=[{"value": value, "label": words} for value, words in data],
        allowDeselect=False,
        size="xs",
    )


def enter(page: str, key: str, label: str, value: float, **more: Any) -> Any:
    """A number.

    Args:
        page: Name of the page.
        key: What is entered.
        label: Above the control, with the unit.
        value: Now.
        more: Of the input, such as ``min`` and ``step``.
    """
    return dmc.NumberInput(
        id=name_of(page, key),
        label=label,
        value="" if math.isnan(value) else value,
        size="xs",
        clampBehavior="blur",
        **more,
    )


def chosen(view: View, page: str, key: str, known: Sequence[str]) -> str:
    """The choice that is kept, or the first there is."""
    value = kept(view, page).get(key)
    return value if value in known else next(iter(known), "")


def entered(view: View, page: str, key: str, usual: float, least: float, most: float) -> float:
    """The number that is kept, or what is usual where it is none or out of bounds."""
    value = kept(view, page).get(key)
    good = isinstance(value, int | float) and least <= value <= most
    return float(value) if good and value is not None else usual


def enter_range(page: str, one: Varied, ends: tuple[float, float]) -> list[Any]:
    """Both ends of an input's range."""
    return [
        enter(page, f"{end} {one.name}", f"{end.capitalize()}, {one.unit}".rstrip(", "), value,
              **{"aria-label": f"{one.label}, {end}"})
        for end, value in zip(ENDS, ends, strict=True)
    ]  # fmt: skip


def entered_range(view: View, page: str, one: Varied) -> tuple[float, float]:
    """The range that is kept, or the usual one."""
    low, high = (
        entered(view, page, f"{end} {one.name}", usual, -LARGEST, LARGEST)
        for end, usual in zip(ENDS, one.usual, strict=True)
    )
    return low, high


def register(app: Dash, page: str) -> None:
    """Keep what is chosen and entered on a page."""

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input(name_of(page, ALL), "value"),
        State(name_of(page, ALL), "id"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def keep(values: Any, names: Any, data: Any) -> Any:
        view = View.parse(data)
        typed = {name["key"]: value for name, value in zip(names, values, strict=True)}
        now = {**kept(view, page), **typed}
        if now == kept(view, page):
            raise PreventUpdate
        return replace(view, extra={**view.extra, page: now}).data()
