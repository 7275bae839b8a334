"""A place in a tree of plain values: find it by its keys, and change it."""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from curves.parts.notes import own, revalued, values_of
from curves.parts.problems import NOTES, PARTS
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


def retold(old: Tree, new: Tree, keys: Sequence[Key]) -> Tree:
    """A job in which one place was changed, without what does not hold any more.

    Args:
        old: the job before.
        new: the job after; notes as before.
        keys: the place.
    """
    deep = 1 if keys[0] in ("conditions", "goals") else 2
    if keys[0] not in (*PARTS, "conditions", "goals", "setup") or keys[0] not in old:
        return new
    if len(keys) <= deep:
        return new if keys[0] == "setup" or new == old else own(new)
    if keys[deep] in NOTES:
        return new
    at = list(keys[:deep])
    if keys[0] == "setup":
        # By its number: its name may be what was changed.
        at[1] = _place(old["setup"], at[1], "")
    before, after = _at(old, at), _at(new, at)
    if before is None or before == after:
        return new
    after = revalued(str(keys[0]), before, after)
    if len(values_of(after)) < len(values_of(before)):
        after.pop("profile", None)
    put(new, at, after)
    return new if keys[0] == "setup" else own(new)


def _at(tree: Any, keys: Sequence[Key]) -> Any:
    """What stands at a place; None for no such part."""
    for key in keys:
        tree = tree.get(key) if isinstance(tree, dict) else tree[_place(tree, key, "")]
    return tree


def own_name(name: str, taken: Collection[str]) -> str:
    """A name where it is not taken yet, else one like it."""
    return free_name(name, taken) if name in taken else name


def free_name(name: str, taken: Collection[str]) -> str:
    """A name like another that is not taken yet."""
    stem = re.sub(r" \(\d+\)$", "", name)
    return next(new for n in itertools.count(2) if (new := f"{stem} ({n})") not in taken)


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
