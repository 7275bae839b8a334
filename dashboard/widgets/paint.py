"""Results that the browser paints by itself: read often, touched by no callback.

Every component on a page is asked at every change whether it changed. Tables of results would be
most of them, so they are sent as plain trees and built by ``tables.js``.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard.widgets.attributes import attributes

ATTRIBUTES = {"className": "class", "title": "title", "role": "role", "tabIndex": "tabindex",
              "scope": "scope", "type": "type", "id": "id", "hidden": "hidden",
              "href": "href"}  # fmt: skip
KEPT = ("aria-", "data-")


def place(name: str) -> dict[str, Any]:
    """Attributes of the element that ``name`` is painted into."""
    return attributes(data_paint=name)


def painted(part: Any) -> Any:
    """A tree of ``dash.html`` as plain values: text, lists, and ``{tag, attributes, children}``.

    Args:
        part: Text, a number, a component of ``dash.html``, an ``entry``, or a list of those; None
            is nothing.

    Raises:
        TypeError: for any other component, which only callbacks could bring to life.
    """
    if part is None:
        return []
    if isinstance(part, list | tuple):
        return [painted(item) for item in part]
    if isinstance(part, dict):
        return part
    if not isinstance(part, Component):
        return part if isinstance(part, str) else str(part)
    if type(part) is not getattr(html, type(part).__name__, None):
        raise TypeError(f"{type(part).__name__} cannot be painted: results are dash.html only")
    return {
        "tag": type(part).__name__.lower(),
        "attributes": _attributes(part),
        "children": painted(getattr(part, "children", None)),
    }


def entry(
    told: str, where: Mapping[str, Any], value: Any, choices: Sequence[str] = (), **how: Any
) -> Any:
    """An input that is painted: what is typed goes the way of ``callbacks.at_once``.

    Args:
        told: What a reader is told that it is.
        where: What it is about, as ``callbacks.at_once`` wants it.
        value: What stands in it.
        choices: What there is to choose from, for a list.
        **how: More attributes: type, least, step.
    """
    known = {
        "aria-label": told,
        "data-where": json.dumps(where, sort_keys=True, separators=(",", ":")),
    }
    if not choices:
        given = {**known, "value": str(value), **{k: str(v) for k, v in how.items()}}
        return {"tag": "input", "attributes": given, "children": []}
    listed = [
        {
            "tag": "option",
            "attributes": {"selected": ""} if choice == value else {},
            "children": choice,
        }
        for choice in choices
    ]
    return {"tag": "select", "attributes": known, "children": listed}


VOID = ("input",)


def markup(tree: Any, places: Mapping[str, Any]) -> str:
    """What the browser would paint, as HTML.

    Args:
        tree: Of ``painted``.
        places: By name, the trees that go into places within it.
    """
    if isinstance(tree, str):
        return escape(tree)
    if isinstance(tree, list):
        return "".join(markup(part, places) for part in tree)
    told = "".join(f' {k}="{escape(v)}"' for k, v in tree["attributes"].items())
    opened = f"<{tree['tag']}{told}>"
    if tree["tag"] in VOID:
        return opened
    inside = [tree["children"], places.get(tree["attributes"].get("data-paint", ""), [])]
    return f"{opened}{markup(inside, places)}</{tree['tag']}>"


def _attributes(part: Component) -> dict[str, str]:
    given: Mapping[str, Any] = vars(part)
    known = {ATTRIBUTES[k]: str(v) for k, v in given.items() if k in ATTRIBUTES and v is not None}
    known.update({k: str(v) for k, v in given.items() if k.startswith(KEPT)})
    if style := given.get("style"):
        known["style"] = ";".join(f"{_dashed(k)}:{v}" for k, v in style.items())
    return known


def _dashed(name: str) -> str:
    return "".join(f"-{c.lower()}" if c.isupper() else c for c in name)
