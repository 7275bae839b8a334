"""What the values are that a page sends to a callback: each of the kind that its input has.

Callbacks rely on it. What the browser keeps from one day to the next, session and view, may be
damaged without anybody's fault, and is read with defaults instead: see ``state.session``.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

from dashboard.base import ids

LARGEST = 1e15
"""No count or number of a control is larger; larger ones are not even numbers to NumPy."""
MOST_LISTED = 5000
"""Values in one list."""

Kind = Callable[[Any], bool]


def is_of_its_kind(given: Mapping[str, Any], like: Mapping[str, str]) -> bool:
    """Whether the value of an input is of the kind that a page sends there, and its name too.

    Args:
        given: What was sent: ``id``, ``property`` and ``value``.
        like: The input as the callback has it.
    """
    pattern, prop, value = _pattern(like["id"]), like["property"], given.get("value")
    if pattern is None:
        return _kind(like["id"], prop)(value)
    if not _named(given["id"], pattern):
        return False
    return _named(value, pattern) if prop == "id" else _kind(pattern["type"], prop)(value)


@cache
def _pattern(wired: str) -> dict[str, Any] | None:
    """The names that a wire to many components stands for; None for a single one."""
    return json.loads(wired) if wired.startswith("{") else None


def _named(made: Any, pattern: Mapping[str, Any]) -> bool:
    """Whether a name is one that a pattern stands for."""
    return (
        isinstance(made, dict)
        and made.keys() == pattern.keys()
        and all(isinstance(x, list) or made[key] == x for key, x in pattern.items())
        and all(NAMES[key](x) if key in NAMES else isinstance(x, str) for key, x in made.items())
    )


def _whole(value: Any) -> bool:
    return type(value) is int and 0 <= value < 1_000_000


def _number(value: Any) -> bool:
    return type(value) in (int, float) and abs(value) <= LARGEST


def _texts(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(x, str) for x in value)


def _chosen(value: Any) -> bool:
    return value is None or _texts(value)


def _text(value: Any) -> bool:
    return value is None or isinstance(value, str)


def _switch(value: Any) -> bool:
    return value is None or isinstance(value, bool)


def _count(value: Any) -> bool:
    return value is None or _number(value)


def _typed(value: Any) -> bool:
    """What an input, a choice or a list of them may hold."""
    if isinstance(value, list):
        return len(value) <= MOST_LISTED and all(isinstance(x, str) or _number(x) for x in value)
    return value is None or isinstance(value, str | bool) or _number(value)


def _task(value: Any) -> bool:
    """What ``waiting.place`` puts on a page."""
    return (
        isinstance(value, dict)
        and isinstance(value.get("page"), str)
        and _number(value.get("width"))
    )


def _edited(value: Any) -> bool:
    """The part open in the form, or none."""
    if not value:
        return value is None or value is False
    return (
        isinstance(value, dict)
        and {"part", "name"} <= value.keys() <= {"part", "name", "sure"}
        and isinstance(value["part"], str)
        and isinstance(value["name"], str)
        and _switch(value.get("sure"))
    )


def _acted(value: Any) -> bool:
    """The button of a setup that was pressed, or none."""
    if not value:
        return value is None or value is False
    return (
        isinstance(value, dict) and _whole(value.get("slot")) and isinstance(value.get("do"), str)
    )


def _carried(value: Any) -> bool:
    """What is to be saved of a page, or none."""
    if not value:
        return not isinstance(value, list)
    return (
        isinstance(value, dict)
        and isinstance(value.get("as"), str)
        and isinstance(value.get("cards"), list)
        and isinstance(value.get("tables"), list)
    )


def _anything(_value: Any) -> bool:
    return True


NAMES: Mapping[str, Kind] = {
    "slot": _whole,
    "row": _whole,
    "place": _whole,
    "amps": lambda x: _number(x) or isinstance(x, str),
    "kmh": _number,
}
"""Keys of names that are no text."""
PROPERTIES: Mapping[str, Kind] = {
    "n_clicks": _count,
    "n_intervals": _count,
    "checked": _switch,
    "contents": _text,
    "filename": _text,
    "pathname": _text,
    "name": _text,
    "max": _count,
    "min": _count,
    "value": _typed,
}
"""By property, where every component's is of one kind."""
LISTS = frozenset({"pin"})
"""Types of inputs that hold a list of texts."""
DATA: Mapping[str, Kind] = {
    ids.PAGE: lambda x: isinstance(x, str),
    ids.EDITING: _edited,
    ids.ACTED: _acted,
    ids.SHARE_PAGE: _carried,
    ids.SETTLED: _count,
}
"""By store; what stands in no other is only compared, or read with defaults."""


def _kind(name: str, prop: str) -> Kind:
    if prop == "data" and name.startswith("working-"):
        return _task
    if prop == "value" and name in LISTS:
        return _chosen
    return DATA.get(name, _anything) if prop == "data" else PROPERTIES.get(prop, _anything)
