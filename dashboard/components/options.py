"""What a study is asked on its page: choices and numbers, kept in the view under its name."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State
from dash.exceptions import PreventUpdate

from curves.parts.base import LARGEST
from dashboard import ids
from dashboard.callbacks.keeping import keep
from dashboard.components.choice import kept
from dashboard.components.inputs import Input as Varied
from dashboard.results import Comparison
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


def several(
    page: str,
    key: str,
    label: str,
    value: Sequence[str],
    data: Sequence[tuple[str, str]],
    most: int,
) -> Any:
    """Some of several values, each with its words; arguments as of ``pick``.

    Args:
        page: Name of the page.
        key: What is chosen.
        label: Above the control.
        value: Now.
        data: Values and words.
        most: How many at most.
    """
    return dmc.MultiSelect(
        id=name_of(page, key),
        label=label,
        value=list(value),
        data=[{"value": value, "label": words} for value, words in data],
        maxValues=most,
        searchable=True,
        hidePickedOptions=True,
        size="xs",
    )


def several_chosen(
    view: View, page: str, key: str, known: Collection[str], usual: Sequence[str]
) -> list[str]:
    """The choices that are kept, or the usual ones."""
    value = kept(view, page).get(key)
    found = value if isinstance(value, list) else usual
    return [x for x in found if x in known]


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
    def chosen(values: Any, names: Any, data: Any) -> Any:
        view = View.parse(data)
        typed = {name["key"]: value for name, value in zip(names, values, strict=True)}
        now = {**kept(view, page), **typed}
        if now == kept(view, page):
            raise PreventUpdate
        return keep(view, replace(view, extra={**view.extra, page: now}))


def redraw(app: Dash, place: str, build: Callable[[Comparison, View], Sequence[Any]]) -> None:
    """Draw what is asked anew when it asks for other things; what is being typed stays.

    Args:
        app: The app.
        place: Name of what holds the controls.
        build: Makes them.
    """
    from dashboard.callbacks.showing import read

    @app.callback(
        Output(place, "children"),
        Input(ids.SETTLED, "data"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        State(place, "children"),
        prevent_initial_call=True,
    )
    def tools(_rested: Any, session: Any, view: Any, shown: Any) -> Any:
        now = build(*read(session, view))
        if names_in(now) == names_in(shown):
            raise PreventUpdate
        return now


def names_in(tree: Any) -> list[Any]:
    """Names of the controls in a tree, of components or as the browser has them."""
    if isinstance(tree, list | tuple):
        return [name for item in tree for name in names_in(item)]
    props = tree.get("props", {}) if isinstance(tree, dict) else getattr(tree, "__dict__", {})
    name = props.get("id")
    return [name] * isinstance(name, dict) + names_in(props.get("children") or [])
