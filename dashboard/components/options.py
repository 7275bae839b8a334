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
from curves.units import AS_WRITTEN, Units, swap_of
from dashboard import ids
from dashboard.callbacks.keeping import keep
from dashboard.components.choice import kept
from dashboard.components.fields import shown
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


IN = "|"
"""In the name of a number in another unit than is kept: behind it, that unit."""


def enter(
    page: str,
    key: str,
    label: str,
    value: float,
    unit: str = "",
    units: Units = AS_WRITTEN,
    **more: Any,
) -> Any:
    """A number.

    Args:
        page: Name of the page.
        key: What is entered.
        label: Above the control; the unit follows it.
        value: Now, in ``unit``.
        unit: What it is kept in.
        units: What it is read and typed in.
        more: Of the input, such as ``min`` and ``step``.
    """
    named = key if units.name(unit) == unit else f"{key}{IN}{unit}"
    return dmc.NumberInput(
        id=name_of(page, named),
        label=f"{label}, {units.name(unit)}".rstrip(", "),
        value="" if math.isnan(value) else shown(value, unit, units),
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


def enter_range(page: str, one: Varied, ends: tuple[float, float], units: Units) -> list[Any]:
    """Both ends of an input's range."""
    return [
        enter(page, f"{end} {one.name}", end.capitalize(), value, one.unit, units,
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
        typed = dict(_typed(name["key"], x) for name, x in zip(names, values, strict=True))
        now = {**kept(view, page), **typed}
        if now == kept(view, page):
            raise PreventUpdate
        return keep(view, replace(view, extra={**view.extra, page: now}))


def _typed(key: str, value: Any) -> tuple[str, Any]:
    """What is kept of a control, to the six digits that are shown."""
    key, _, unit = key.partition(IN)
    swap = swap_of(unit)
    if swap is None or not isinstance(value, int | float):
        return key, value
    return key, float(f"{Units.of([swap[0]]).typed(value, unit):.6g}")


def redraw(app: Dash, place: str, build: Callable[[Comparison, View], Sequence[Any]]) -> None:
    """Draw what is asked anew when it asks for other things or in other words; what is typed stays.

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
        if controls_in(now) == controls_in(shown):
            raise PreventUpdate
        return now


def controls_in(tree: Any) -> list[Any]:
    """Names, labels and choices of the controls in a tree, of components or from the browser."""
    if isinstance(tree, list | tuple):
        return [control for item in tree for control in controls_in(item)]
    props = tree.get("props", {}) if isinstance(tree, dict) else getattr(tree, "__dict__", {})
    if isinstance(props.get("id"), dict):
        return [(props["id"], props.get("label"), props.get("data"))]
    return controls_in(props.get("children") or [])
