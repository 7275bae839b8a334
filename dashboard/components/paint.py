"""Results that the browser paints by itself: read often, touched by no callback.

Every component on a page is asked at every change whether it changed. Tables of results would be
most of them, so they are sent as plain trees and built by ``client.js``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html
from dash.development.base_component import Component

ATTRIBUTES = {"className": "class", "title": "title", "role": "role", "tabIndex": "tabindex",
              "scope": "scope", "type": "type"}  # fmt: skip


def place(name: str) -> dict[str, str]:
    """Attributes of the element that ``name`` is painted into."""
    return {"data-paint": name}


def painted(part: Any) -> Any:
    """A tree of ``dash.html`` as plain values: text, lists, and ``{tag, attributes, children}``.

    Args:
        part: Text, a number, a component of ``dash.html``, or a list of those; None is nothing.

    Raises:
        TypeError: for any other component, which only callbacks could bring to life.
    """
    if part is None:
        return []
    if isinstance(part, list | tuple):
        return [painted(item) for item in part]
    if not isinstance(part, Component):
        return str(part)
    if type(part) is not getattr(html, type(part).__name__, None):
        raise TypeError(f"{type(part).__name__} cannot be painted: results are dash.html only")
    return {
        "tag": type(part).__name__.lower(),
        "attributes": _attributes(part),
        "children": painted(getattr(part, "children", None)),
    }


def _attributes(part: Component) -> dict[str, str]:
    given: Mapping[str, Any] = vars(part)
    known = {ATTRIBUTES[k]: str(v) for k, v in given.items() if k in ATTRIBUTES and v is not None}
    kept = ("aria-", "data-act", "data-term")
    known.update({k: str(v) for k, v in given.items() if k.startswith(kept)})
    if style := given.get("style"):
        known["style"] = ";".join(f"{_dashed(k)}:{v}" for k, v in style.items())
    return known


def _dashed(name: str) -> str:
    return "".join(f"-{c.lower()}" if c.isupper() else c for c in name)
