"""A tree of plain values to TOML text; touches no file."""

from __future__ import annotations

from typing import Any

from curves.parts.problems import PARTS
from curves.parts.reading import Tree

FIRST = ("format", "title", "compare_to")


def toml_text(tree: Tree) -> str:
    """A job's tree as TOML: single values, then tables, then the setups."""
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
