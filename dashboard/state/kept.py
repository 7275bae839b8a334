"""What pages keep in the browser, read back: whatever became of it, as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

LARGEST = 1e12
"""Larger numbers are no quantity of a bike, nor any count of a page."""
MOST_DEEP = 6
MOST_ITEMS = 5000
MOST_LETTERS = 20_000


class _DamagedError(ValueError):
    """Raised where a value is none that a page keeps."""


def of_pages(data: Any) -> dict[str, Mapping[str, Any]]:
    """What each page keeps, by the page's name.

    Args:
        data: As the browser had it. What is no table of plain values is left out, so that the page
            finds its defaults there.
    """
    if not isinstance(data, Mapping):
        return {}
    found: dict[str, Mapping[str, Any]] = {}
    for page, kept in list(data.items())[:MOST_ITEMS]:
        if isinstance(kept, Mapping):
            found[str(page)] = _mapping(kept, 1)
    return found


def _mapping(kept: Mapping[Any, Any], deep: int) -> dict[str, Any]:
    found = {}
    for key, value in list(kept.items())[:MOST_ITEMS]:
        try:
            found[str(key)[:MOST_LETTERS]] = _plain(value, deep)
        except _DamagedError:
            continue
    return found


def _plain(value: Any, deep: int) -> Any:
    if deep > MOST_DEEP:
        raise _DamagedError
    match value:
        case None | bool():
            return value
        case int() | float() if abs(value) <= LARGEST:
            return value
        case str() if len(value) <= MOST_LETTERS:
            return value
        case list() if len(value) <= MOST_ITEMS:
            return [_plain(one, deep + 1) for one in value]
        case Mapping():
            return _mapping(value, deep + 1)
    raise _DamagedError
