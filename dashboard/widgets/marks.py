"""Small signs: a setup's mark, icons, soft words."""

from __future__ import annotations

import math
from typing import Any

from dash import html

from dashboard.base.theme import mark
from dashboard.base.words import signed
from dashboard.widgets.attributes import attributes


def swatch(slot: int) -> Any:
    """A setup's colour in a setup's shape."""
    m = mark(slot)
    return html.Span(className="mark", style={"background": m.colour, "clipPath": m.shape})


def icon(name: str) -> Any:
    """An icon of the style sheet; hidden from readers, the button around it is labelled."""
    return html.Span(className=f"icon icon-{name}", **attributes(aria_hidden="true"))


def act(sign: str, slot: int, do: str, told: str, said: str = "") -> Any:
    """A button that does something to a setup; the browser tells ``ids.ACTED`` of it.

    Args:
        sign: Its icon, empty for none.
        slot: The setup.
        do: What, as ``callbacks.editing`` knows it.
        told: What a reader is told.
        said: What stands on it.
    """
    return html.Button(
        said or None,
        type="button",
        className=f"tool icon-{sign}" if sign else "tool worded",
        title=None if said else told,
        **attributes(aria_label=told, data_act=f"{slot} {do}"),
    )


def soft(*children: Any, **more: Any) -> Any:
    """Words of less weight."""
    return html.Span(list(children), className="soft", **more)


def change(difference: float, digits: int = 0) -> list[Any]:
    """A difference beside its figure; nothing where there is none, or none to see.

    Args:
        difference: In the figure's unit; may be infinite or NaN.
        digits: Behind the point.
    """
    if not math.isfinite(difference) or round(difference, digits) == 0:
        return []
    return [html.Span(signed(difference, digits), className="change")]


def term(text: str, meaning: str) -> Any:
    """A word whose meaning shows on hover."""
    return html.Span(text, title=meaning, className="term")
