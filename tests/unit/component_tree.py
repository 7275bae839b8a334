"""Reading a tree of components without a browser."""

from typing import Any


def ids_of(part: Any) -> list[Any]:
    """Every id in it."""
    own = [part.id] if getattr(part, "id", None) is not None else []
    return own + [found for child in _children(part) for found in ids_of(child)]


def parts(part: Any) -> list[Any]:
    """Every component in it, those that hold others before them."""
    own = [part] if hasattr(part, "to_plotly_json") else []
    return own + [found for child in _children(part) for found in parts(child)]


def words(part: Any) -> str:
    """All text in it."""
    if isinstance(part, str | int | float):
        return str(part)
    return "".join(words(child) for child in _children(part))


def _children(part: Any) -> list[Any]:
    if part is None or isinstance(part, str | int | float):
        return []
    inside = part if isinstance(part, list | tuple) else getattr(part, "children", None)
    return list(inside) if isinstance(inside, list | tuple) else [inside]
