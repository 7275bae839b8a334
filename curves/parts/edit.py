"""A place in a tree of plain values: find it by its keys, and change it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from curves.parts.problems import PARTS
from curves.parts.reading import Tree, refuse

Key = str | int


def split(path: str, tree: Tree) -> list[Key]:
    """Keys of a dotted path; part and setup names may hold dots themselves.

    Args:
        path: such as ``pack.p14.series``.
        tree: the job, whose names decide where a name ends.
    """
    head, _, rest = path.partition(".")
    if not rest or head not in (*PARTS, "setup"):
        return list(path.split("."))
    for name in sorted(_names(tree.get(head, {})), key=len, reverse=True):
        if rest == name:
            return [head, name]
        if rest.startswith(f"{name}."):
            return [head, name, *rest[len(name) + 1 :].split(".")]
    return list(path.split("."))


def put(tree: Tree, keys: Sequence[Key], value: object) -> None:
    """Set a value in the tree, in place; None takes it out.

    Args:
        tree: the job.
        keys: from the root; an item of a list goes by its number or its name.
        value: plain values.

    Raises:
        JobError: if there is no such place.
    """
    spelled = "job: " + ".".join(str(key) for key in keys)
    if not keys:
        refuse(spelled, "names no place")
    table: Any = tree
    for key in keys[:-1]:
        place = _place(table, key, spelled)
        table = table.setdefault(place, {}) if isinstance(table, dict) else table[place]
    last = _place(table, keys[-1], spelled)
    if value is not None:
        table[last] = value
    elif isinstance(table, dict):
        table.pop(last, None)
    else:
        del table[last]


def _place(table: object, key: Key, spelled: str) -> Any:
    if isinstance(table, dict):
        return key
    if not isinstance(table, list):
        refuse(spelled, "there is no such field")
    names = _names(table)
    if key in names:
        return names.index(str(key))
    number = int(key) if isinstance(key, int) or key.isdecimal() else -1
    if not 0 <= number < len(table):
        refuse(spelled, "there is none of that name or number")
    return number


def _names(table: object) -> list[str]:
    if isinstance(table, Mapping):
        return [str(name) for name in table]
    return [str(row.get("name")) if isinstance(row, dict) else "" for row in _rows(table)]


def _rows(table: object) -> Sequence[object]:
    return table if isinstance(table, Sequence) else ()
