"""Small signs: a setup's mark, icons, soft words."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.theme import mark


def swatch(slot: int) -> Any:
    """A setup's colour in a setup's shape."""
    m = mark(slot)
    return html.Span(className="mark", style={"background": m.colour, "clipPath": m.shape})


def icon(name: str) -> Any:
    """An icon of the style sheet; hidden from readers, the button around it is labelled."""
    return html.Span(className=f"icon icon-{name}", **{"aria-hidden": "true"})


def soft(*children: Any, **more: Any) -> Any:
    """Words of less weight."""
    return html.Span(list(children), className="soft", **more)


def term(text: str, meaning: str) -> Any:
    """A word whose meaning shows on hover."""
    return html.Span(text, title=meaning, className="term")
