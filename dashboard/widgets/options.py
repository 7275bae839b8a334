"""What a study is asked on its page: choices and numbers, kept in the view under its name."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple, TypeAlias

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, no_update, set_props
from dash.exceptions import PreventUpdate

from curves.parts.base import LARGEST, SMALLEST
from curves.units import AS_WRITTEN, Units, swap_of
from dashboard.answers.setups import Comparison, read
from dashboard.base import ids
from dashboard.state.session import View
from dashboard.widgets.attributes import attributes
from dashboard.widgets.choice import kept
from dashboard.widgets.fields import shown
from dashboard.widgets.inputs import Input as Varied
from dashboard.widgets.patch import keep

ENDS = ("from", "to")
Check: TypeAlias = Callable[[str], str]


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
    *,
    least: float = -LARGEST,
    most: float = LARGEST,
    empty: str = "",
    **more: Any,
) -> Any:
    """A number. What is emptied, no number or out of bounds is said, and the old one stays.

    Args:
        page: Name of the page.
        key: What is entered.
        label: Above the control; the unit follows it.
        value: Now, in ``unit``; NaN for none.
        unit: What it is kept in.
        units: What it is read and typed in.
        least: The lowest it may be, in ``unit``.
        most: The highest.
        empty: What none means, where it may be emptied; begins with ``none``.
        more: Of the input, such as ``step``.
    """
    named = key if units.name(unit) == unit else f"{key}{IN}{unit}"
    now = "" if math.isnan(value) else shown(value, unit, units)
    return dmc.NumberInput(
        id=name_of(page, named),
        label=f"{label}, {units.name(unit)}".rstrip(", "),
        value=now,
        # An emptied input shows what holds on, or what none means.
        placeholder=empty or str(now),
        min=shown(least, unit, units),
        max=shown(most, unit, units),
        size="xs",
        clampBehavior="none",
        **more,
    )


def wrong_number(value: Any, least: float, most: float, *, whole: bool = False) -> str:
    """What is wrong with a number that was typed, empty for nothing.

    Args:
        value: As the input gives it.
        least: The lowest it may be.
        most: The highest.
        whole: Whether it is counted.
    """
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return "must be a number"
    if whole and value != int(value):
        return "must be a whole number"
    if least <= value <= most:
        return ""
    above = 0 < least <= SMALLEST
    low, high = (f"{end:,.0f}" if end == int(end) else f"{end:,.6g}" for end in (least, most))
    if most >= LARGEST:
        return "must be above 0" if above else f"must be {low} or more"
    return f"must be {'above 0, to' if above else f'from {low} to'} {high}"


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
    return value if isinstance(value, str) and value in known else next(iter(known), "")


def entered(view: View, page: str, key: str, usual: float, least: float, most: float) -> float:
    """The number that is kept, or what is usual where it is none or out of bounds."""
    value = kept(view, page).get(key)
    good = isinstance(value, int | float) and least <= value <= most
    return float(value) if good and value is not None else usual


def enter_range(page: str, one: Varied, ends: tuple[float, float], units: Units) -> list[Any]:
    """Both ends of an input's range."""
    return [
        enter(page, f"{end} {one.name}", end.capitalize(), value, one.unit, units,
              least=max(one.least, -LARGEST), most=min(one.most, LARGEST),
              **attributes(aria_label=f"{one.label}, {end}"))
        for end, value in zip(ENDS, ends, strict=True)
    ]  # fmt: skip


def entered_range(view: View, page: str, one: Varied) -> tuple[float, float]:
    """The range that is kept, or the usual one."""
    low, high = (
        entered(view, page, f"{end} {one.name}", usual, -LARGEST, LARGEST)
        for end, usual in zip(ENDS, one.usual, strict=True)
    )
    return low, high


def register(app: Dash, page: str, checks: Mapping[str, Check] | None = None) -> None:
    """Keep what is chosen and entered on a page; say beside a control what is wrong with it.

    Args:
        app: The app.
        page: Name of the page.
        checks: What is wrong with the text of an option, empty for nothing, by its key.
    """

    @app.callback(
        Output(ids.VIEW, "data", allow_duplicate=True),
        Input(name_of(page, ALL), "value"),
        State(name_of(page, ALL), "id"),
        State(name_of(page, ALL), "placeholder"),
        State(name_of(page, ALL), "min"),
        State(name_of(page, ALL), "max"),
        State(name_of(page, ALL), "allowDecimal"),
        State(ids.VIEW, "data"),
        prevent_initial_call=True,
    )
    def chosen(*told: Any) -> Any:
        *columns, data = told
        view = View.parse(data)
        before, now = kept(view, page), dict[str, Any]()
        changed = [name for name in ctx.triggered_prop_ids.values() if isinstance(name, dict)]
        for control in zip(*columns, strict=True):
            made = _Control(*control)
            wrong = made.wrong(checks or {})
            if made.name in changed:
                set_props(made.name, made.said(wrong, before))
            if not wrong:
                now |= [_typed(made.name["key"], made.value)]
        now = {**before, **now}
        # What is said beside a control would be lost with a callback that sets nothing.
        if now == before:
            return no_update
        return keep(view, replace(view, extra={**view.extra, page: now}))


class _Control(NamedTuple):
    """A control as the browser has it; only numbers have bounds."""

    value: Any
    name: dict[str, Any]
    placeholder: Any
    least: Any
    most: Any
    decimal: Any

    @property
    def may_be_empty(self) -> bool:
        return str(self.placeholder or "").startswith("none")

    def wrong(self, checks: Mapping[str, Check]) -> str:
        """What is wrong with its value."""
        if self.least is None or self.most is None:
            check = checks.get(self.name["key"])
            return check(str(self.value or "")) if check else ""
        if self.value in ("", None) and self.may_be_empty:
            return ""
        return wrong_number(self.value, self.least, self.most, whole=self.decimal is False)

    def said(self, wrong: str, before: Mapping[str, Any]) -> dict[str, Any]:
        """Its properties: what is wrong and what holds on, else nothing but what holds now."""
        if wrong:
            key, _, _unit = self.name["key"].partition(IN)
            old = before.get(key) if self.may_be_empty or self.least is None else self.placeholder
            return {"error": f"{wrong}; {'none' if old in ('', None) else old} stays in force"}
        held = self.least is not None and not self.may_be_empty
        return {"error": None, **({"placeholder": str(self.value)} if held else {})}


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
