"""Whether a request has the form in which these pages send theirs. No Dash here."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from dashboard.server.sent import is_of_its_kind

MOST_DEEP = 100
"""Levels of lists and tables; a page sends some ten."""
EVERY = ('["ALL"]', '["ALLSMALLER"]')
"""What stands in the name of an input for any number of them."""


def is_shallow(told: Any) -> bool:
    """Whether what was sent is nested no deeper than any code here bears.

    Args:
        told: Plain values.
    """
    level = [told]
    for _ in range(MOST_DEEP):
        level = [
            item
            for node in level
            if isinstance(node, dict | list)
            for item in (node.values() if isinstance(node, dict) else node)
        ]
        if not level:
            return True
    return False


def is_of_a_page(told: Any, callbacks: Mapping[str, Mapping[str, Any]]) -> bool:
    """Whether a request asks for a callback there is, with the inputs that it has.

    Args:
        told: What was sent.
        callbacks: Of the app, as Dash keeps them: output to ``inputs`` and ``state``.
    """
    if not isinstance(told, dict) or not isinstance(told.get("output"), str):
        return False
    wired = callbacks.get(told["output"], {})
    changed, outputs = told.get("changedPropIds", []), told.get("outputs", [])
    count = told["output"].count("...") + 1
    outputs = outputs if isinstance(outputs, list) and count > 1 else [outputs]
    return (
        "callback" in wired
        and _fit(told.get("inputs", []), wired["inputs"])
        and _fit(told.get("state", []), wired["state"])
        and (wired["no_output"] or (len(outputs) == count and all(map(_is_output, outputs))))
        and isinstance(changed, list)
        and all(map(_is_property, changed))
    )


def _fit(given: Any, wired: Any) -> bool:
    if not isinstance(given, list) or len(given) != len(wired):
        return False
    return all(_fits(one, like) for one, like in zip(given, wired, strict=True))


def _fits(given: Any, like: Mapping[str, str]) -> bool:
    if any(word in like["id"] for word in EVERY):
        return isinstance(given, list) and all(_is_like(one, like) for one in given)
    return _is_like(given, like)


def _is_like(given: Any, like: Mapping[str, str]) -> bool:
    if not isinstance(given, dict) or given.get("property") != like["property"]:
        return False
    name = given.get("id")
    if not like["id"].startswith("{"):
        return bool(name == like["id"]) and is_of_its_kind(given, like)
    plain = isinstance(name, dict) and all(isinstance(x, str | int | float) for x in name.values())
    return plain and is_of_its_kind(given, like)


def _is_output(given: Any) -> bool:
    if isinstance(given, list):
        return all(_is_output(one) and isinstance(one, dict) for one in given)
    named = isinstance(given, dict) and isinstance(given.get("id"), str | dict)
    return named and isinstance(given.get("property"), str)


def _is_property(name: Any) -> bool:
    if not isinstance(name, str) or "." not in name:
        return False
    if not name.startswith("{"):
        return True
    try:
        return isinstance(json.loads(name.rpartition(".")[0]), dict)
    except (RecursionError, ValueError):
        return False
