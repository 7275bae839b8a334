"""Text to a tree of plain values, with clear refusals; touches no file."""

from __future__ import annotations

import json
import re
import tomllib
from typing import Any, Literal, Never

from curves.errors import JobError, Problem

Kind = Literal["toml", "json"]
Tree = dict[str, Any]

MOST_BYTES = 1_000_000
MOST_PAGE_BYTES = 20_000_000
"""Of a page that carries a job; the job itself is held to ``MOST_BYTES`` as any other."""
MOST_DEEP = 12
MOST_VALUES = 20_000
# The TOML reader's time grows with the square of a dotted key's parts.
LONG_KEY = re.compile(
    r"""(?<![^\s.=,\[\]{}])(?:(?:"[^"\n]*"|'[^'\n]*'|[^\s.=,\[\]{}"']++)[ \t]*+\.[ \t]*+){64}"""
)
CARRIED = '<script type="application/json" id="rimforce-job">'
"""What a job stands behind in a page that carries it, such as a report."""
TOO_DEEP = "tables or lists are nested too deeply: a job needs no more than four levels"


def refuse(where: str, message: str, value: str = "") -> Never:
    """Raise a `JobError` of one problem."""
    raise JobError([Problem(where, value, message)])


def refuse_half(where: str, error: UnicodeEncodeError) -> Never:
    """Raise a `JobError` about a text that holds half of a letter."""
    refuse(where, f"holds half of a letter, U+{ord(error.object[error.start]):04X}: write it anew")


def decode(data: bytes, where: str) -> str:
    """File content to text, refusing what is too large or not UTF-8.

    Args:
        data: at most a little more than ``MOST_PAGE_BYTES`` need be read.
        where: name of the file, for messages.

    Raises:
        JobError: if it is too large or in another encoding.
    """
    _refuse_large(len(data), where, page=data.lstrip().startswith(b"<"))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        refuse(where, f"line {line} is not UTF-8 text: save the file as UTF-8")


def read_tree(text: str, where: str, kind: Kind | None = None) -> Tree:
    """TOML or JSON text, or a page that carries JSON, to nested dictionaries.

    Args:
        text: content of the file.
        where: name of the file, for messages.
        kind: the format; None tells JSON by its opening brace, a page by its opening bracket.

    Raises:
        JobError: if it is not of that format, nested too deeply, or not a table.
    """
    page = kind is None and text.lstrip().startswith("<")
    _refuse_large(len(text), where, page=page)
    if not text.strip():
        refuse(where, 'is empty: a job begins with format = "rimforce-job-1"')
    if page:
        text, kind = _carried(text, where), "json"
        _refuse_large(len(text), where)
    kind = kind or ("json" if text.lstrip().startswith("{") else "toml")
    try:
        tree = _toml(text, where) if kind == "toml" else _json(text, where)
    except RecursionError:
        refuse(where, TOO_DEEP)
    if not isinstance(tree, dict):
        refuse(where, "must be one table of tables (in JSON, an object)")
    _refuse_monsters(tree, where)
    return tree


def _refuse_large(size: int, where: str, *, page: bool = False) -> None:
    most = MOST_PAGE_BYTES if page else MOST_BYTES
    if size > most:
        refuse(where, f"is larger than {most / 1e6:g} MB: a job file is a few kB of text")


def _carried(text: str, where: str) -> str:
    """The job that a page carries."""
    before, *after = text.split(CARRIED)
    if len(after) != 1:
        what = "more than one job" if after else f"no job: it begins with {show(before[:20])}"
        refuse(where, f"is a page that carries {what}")
    return after[0].partition("</script>")[0]


def _toml(text: str, where: str) -> object:
    if LONG_KEY.search(text):
        refuse(where, TOO_DEEP)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        refuse(where, f"is not valid TOML: {str(error)[:150]}")
    except ValueError:
        # Numbers of thousands of digits, and dates that do not exist.
        refuse(where, "is not valid TOML: it holds a number or date that cannot be read")


def _json(text: str, where: str) -> object:
    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        table = dict(pairs)
        if len(table) < len(pairs):
            names = [name for name, _ in pairs]
            twice = next(name for name in names if names.count(name) > 1)
            refuse(where, f"has the key {show(twice)} twice in one table")
        return table

    try:
        tree = json.loads(text, object_pairs_hook=once)
        # JSON can write half of a letter, which no text can hold.
        json.dumps(tree, ensure_ascii=False).encode("utf-8")
        return tree
    except JobError:
        raise
    except UnicodeEncodeError as error:
        refuse_half(where, error)
    except json.JSONDecodeError as error:
        refuse(where, f"is not valid JSON: {str(error)[:150]}")
    except ValueError:
        refuse(where, "is not valid JSON: it holds a number that cannot be read")


def _refuse_monsters(tree: Tree, where: str) -> None:
    """Refuse what no job needs before checking it field by field would take long."""
    level: list[Any] = [tree]
    total = 0
    for _ in range(MOST_DEEP):
        level = [
            item
            for node in level
            if isinstance(node, dict | list)
            for item in (node.values() if isinstance(node, dict) else node)
        ]
        total += len(level)
        if total > MOST_VALUES:
            refuse(where, f"holds more than {MOST_VALUES} values: a job needs some hundred")
        if not level:
            return
    refuse(where, TOO_DEEP)


def show(value: object) -> str:
    """A value as the file writes it, short enough for a message."""
    match value:
        case None:
            return ""
        case dict():
            return "a table"
        case bool():
            return "true" if value else "false"
        case list() | tuple():
            written = ", ".join(show(item) for item in value[:4])
            return _cut(f"[{written}{', …' if len(value) > 4 else ''}]")
        case str():
            return _cut(json.dumps(value[:80], ensure_ascii=False))
        case int() if abs(value) >= 10**18:
            return "a number of very many digits"
        case _:
            return _cut(str(value))


def plain(key: str | int) -> str:
    """A key as a message can hold it: short, on one line."""
    name = str(key)
    return _cut(name if name.isprintable() and name else json.dumps(name[:80]))


def _cut(written: str) -> str:
    return written if len(written) <= 60 else f"{written[:59]}…"
