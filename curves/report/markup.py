"""HTML and SVG put together so that no text a user typed can become markup."""

from __future__ import annotations

import html
from collections.abc import Iterable
from typing import TypeAlias

from curves.plaintext import showable

VOID = frozenset(("br", "col", "hr", "link", "meta", "wbr"))


class Markup(str):
    """Text that is markup already; any other text is escaped where it is put in."""

    __slots__ = ()


Child: TypeAlias = "str | Iterable[Child] | None"
Attribute: TypeAlias = "str | float | bool | None"


def escape(text: str) -> Markup:
    """A text as markup that shows it, in content and in quoted attributes alike."""
    if isinstance(text, Markup):
        return text
    return Markup(html.escape(showable(text), quote=True))


def tag(name: str, /, *children: Child, **attributes: Attribute) -> Markup:
    """An element.

    Args:
        name: of the element.
        children: texts (escaped), markup, or iterables of them; None is left out.
        attributes: underscores stand for hyphens, one at the end is dropped (``class_``). False
            and None leave an attribute out, True gives it without a value, numbers are rounded.
    """
    written = "".join(
        f" {key.rstrip('_').replace('_', '-')}"
        + ("" if value is True else f'="{escape(_attribute(value))}"')
        for key, value in attributes.items()
        if value is not None and value is not False
    )
    if name in VOID:
        return Markup(f"<{name}{written}>")
    return Markup(f"<{name}{written}>{join(children)}</{name}>")


def join(children: Child) -> Markup:
    """Children one after the other."""
    if children is None:
        return Markup("")
    if isinstance(children, str):
        return escape(children)
    return Markup("".join(map(join, children)))


def short(value: float) -> str:
    """A coordinate to a tenth, without needless digits."""
    written = f"{value:z.1f}".removesuffix(".0")
    return "0" if written == "-0" else written


def _attribute(value: str | float) -> str:
    return value if isinstance(value, str) else short(value)
