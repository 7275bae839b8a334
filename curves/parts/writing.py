"""A tree of plain values to TOML text; touches no file."""

from __future__ import annotations

import re
import tomllib
from collections.abc import MutableMapping
from typing import Any

from curves.parts.problems import PARTS
from curves.parts.reading import Tree

FIRST = ("format", "title", "compare_to")


def toml_text(tree: Tree, over: str = "") -> str:
    """A job's tree as TOML: single values, then tables, then the setups.

    Args:
        tree: The job.
        over: TOML text of the job as it was, whose comments and order are kept where they can be.
    """
    return _laid_over(tree, over) or _written(tree)


def _written(tree: Tree) -> str:
    import tomlkit  # slow to import, and needed only to save

    document = tomlkit.document()
    for key in sorted(tree, key=_rank):
        if not isinstance(tree[key], dict) and key != "setup":
            document.add(key, tree[key])
    for key, value in tree.items():
        if isinstance(value, dict):
            document.add(key, _table(value, is_super=key in PARTS))
    setups = tomlkit.aot()
    for setup in tree["setup"]:
        setups.append(_table(setup))
    document.add("setup", setups)
    return tomlkit.dumps(document)


def _rank(key: str) -> int:
    return FIRST.index(key) if key in FIRST else len(FIRST)


def _table(values: Tree, *, is_super: bool = False) -> Any:
    import tomlkit

    table = tomlkit.table(is_super)
    for key, value in values.items():
        if not isinstance(value, dict):
            table.add(key, value)
    for key, value in values.items():
        if isinstance(value, dict) and value:
            table.add(key, _table(value))
    return table


def _laid_over(tree: Tree, over: str) -> str | None:
    """The old text with what is new put into it; None where that does not say the same."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(over)
        setups = document.get("setup")
        _lay(document, {**tree, "setup": setups})
        _lay_setups(setups, tree["setup"])
        # Tables that moved leave their blank lines behind.
        text = re.sub(r"\n{3,}", "\n\n", tomlkit.dumps(document))
        return text if tomllib.loads(text) == tree else None
    # Some ways to write a table are read but cannot be edited.
    except (TOMLKitError, tomllib.TOMLDecodeError, TypeError, ValueError, KeyError):
        return None


def _lay(table: Any, values: Tree) -> None:
    """Make a table say some values, touching only what differs."""
    for key in [key for key in table if key not in values]:
        del table[key]
    for key, value in values.items():
        old = table.get(key)
        if isinstance(value, dict) and isinstance(old, MutableMapping):
            _lay(old, value)
        elif key not in table or old != value:
            table[key] = _table(value) if isinstance(value, dict) else value


def _lay_setups(tables: Any, setups: list[Tree]) -> None:
    """Each setup over the table that had its name, or else stood in its place."""
    old = list(tables)
    names = {table["name"]: table for table in old}
    kept = {setup["name"] for setup in setups}
    for _ in old:
        del tables[0]
    for at, setup in enumerate(setups):
        table = names.get(setup["name"])
        if table is None and at < len(old) and old[at]["name"] not in kept:
            table = old[at]
        if table is None:
            table = _table(setup)
        _lay(table, setup)
        tables.append(table)
