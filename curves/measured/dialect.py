"""How a table of text is written: encoding, separator, decimal mark, where its data begin.

Works on the first lines; touches no file.
"""

from __future__ import annotations

import codecs
import csv
import math
import re
from collections import Counter
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from typing import Final

from curves.measured.clock import is_clock
from curves.parts.reading import refuse
from curves.plaintext import showable

SEPARATORS: Final = (";", "\t", ",", "|", " ")
NUMBER: Final = re.compile(
    r"[+-]?(\d{1,3}(?:([.,'’\u00a0\u202f ])\d{3})+|\d+|(?=[.,]\d))(?:([.,])(\d*))?([eE][+-]?\d+)?"
)
EMPTY: Final = frozenset(
    (
        "",
        "-",
        "--",
        "---",
        "nan",
        "na",
        "n/a",
        "null",
        "none",
        "nil",
        "inf",
        "-inf",
        "?",
        "*",
        "#n/a",
    )
)
"""How loggers write that there is no value, in lower case."""
LOOKED_AT: Final = 200
"""Lines by which the writing is judged."""
BOMS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


@dataclass(frozen=True)
class Dialect:
    """How a table is written.

    Attributes:
        encoding: Name that Python knows.
        separator: Between cells.
        decimal: ``.`` or ``,``.
        skipped: Lines before the first line of data.
        names: Heading of each column.
        units: What a line of units under the headings says, empty texts where there is none.
        sample: Cells of the first lines of data.
    """

    encoding: str
    separator: str
    decimal: str
    skipped: int
    names: tuple[str, ...]
    units: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]


def encoding_of(head: bytes, where: str) -> str:
    """Encoding of a text by its first bytes.

    Args:
        head: the first kilobytes.
        where: name of the file, for messages.

    Raises:
        JobError: if it is no text.
    """
    if head.startswith(b"PK\x03\x04"):
        refuse(where, "is a spreadsheet or an archive: export it as CSV")
    for mark, name in BOMS:
        if head.startswith(mark):
            return name
    if head.count(b"\0") > len(head) // 4:
        # Plain letters in two bytes have every other byte empty.
        return "utf-16-le" if head[1::2].count(b"\0") > head[::2].count(b"\0") else "utf-16-be"
    strange = sum(head.count(bytes((code,))) for code in range(9))
    if strange > len(head) // 100:
        refuse(where, "is not text: export the log as CSV or GPX")
    try:
        # The last letter may be cut in half.
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def dialect_of(lines: list[str], encoding: str, where: str) -> Dialect:
    """How a table is written, from its first lines.

    Args:
        lines: at most ``LOOKED_AT`` of them are used.
        encoding: as found.
        where: name of the file, for messages.

    Raises:
        JobError: if no table of numbers is found.
    """
    lines = lines[:LOOKED_AT]
    if not any(line.strip() for line in lines):
        refuse(where, "is empty")
    best: tuple[float, str, int] = (0.0, "", 0)
    for separator in SEPARATORS:
        rows = cells(lines, separator)
        first = _first_data(rows)
        if first is None:
            continue
        score = _fitness(rows, first) * (0.5 if separator == " " else 1.0)
        if score > best[0]:
            best = (score, separator, first)
    if not best[0]:
        refuse(
            where,
            f"line {_first_text(lines)}: no table of numbers is found: a log needs lines of "
            "values parted by commas, semicolons or tabs, under a line of headings",
        )
    _, separator, first = best
    rows = cells(lines, separator)
    data = [row for row in rows[first:] if any(row)]
    names, units = _headings(rows, first, where)
    return Dialect(
        encoding=encoding,
        separator=separator,
        decimal=_decimal(data, separator),
        skipped=first,
        names=names,
        units=units,
        sample=tuple(tuple(row) for row in data),
    )


def cells(lines: list[str], separator: str) -> list[list[str]]:
    """Lines of text as stripped cells, one row a line; quotes that never close are left as text."""
    rows: list[list[str]] = []
    for line in lines:
        try:
            row = next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
        except csv.Error:
            row = line.split(separator)
        rows.append([showable(cell.strip()) for cell in row])
    return rows


def is_number(text: str) -> bool:
    """Whether a cell holds a number, in whatever way it is written."""
    return NUMBER.fullmatch(text) is not None


def number(text: str, decimal: str) -> float:
    """A cell as a number; NaN where it says that there is none.

    Args:
        text: the cell, stripped.
        decimal: ``.`` or ``,``.

    Raises:
        ValueError: if it is neither.
    """
    if text.lower() in EMPTY:
        return float("nan")
    if NUMBER.fullmatch(text) is None:
        raise ValueError(text)
    bare = re.sub(r"['’\u00a0\u202f ]", "", text)
    other = "." if decimal == "," else ","
    # Groups of three are told from decimals by the mark that is not the decimal one.
    return float(bare.replace(other, "").replace(decimal, "."))


def numbers(texts: Iterable[str], decimal: str) -> list[float]:
    """Those of some cells that are finite numbers in this writing."""
    found = []
    for text in texts:
        with suppress(ValueError):
            found.append(number(text, decimal))
    return [value for value in found if math.isfinite(value)]


def _first_data(rows: list[list[str]]) -> int | None:
    """Where the first of three like rows of values stands (or of fewer, at the end)."""
    for k, row in enumerate(rows):
        following = [other for other in rows[k : k + 3] if other and not _is_comment(other)]
        if _is_data(row) and all(_is_data(other) for other in following):
            return k
    return None


def _is_data(row: list[str]) -> bool:
    filled = [cell for cell in row if cell.lower() not in EMPTY]
    values = sum(is_number(cell) or is_clock(cell) for cell in filled)
    return values >= 2 and 2 * values >= len(filled) and not _is_comment(row)


def _is_comment(row: list[str]) -> bool:
    return bool(row) and row[0].startswith(("#", "//"))


def _fitness(rows: list[list[str]], first: int) -> float:
    """How well a separator explains the lines: as many values in each, all of them values."""
    width = len(rows[first])
    if width < 2:
        return 0.0
    data = [row for row in rows[first:] if any(row)]
    regular = sum(len(row) == width for row in data) / len(data)
    filled = [cell for row in data for cell in row if cell]
    values = sum(is_number(cell) or is_clock(cell) for cell in filled) / max(len(filled), 1)
    headed = any(len(row) == width for row in rows[:first])
    return regular * (0.2 + values) * (1.0 + 0.2 * headed) + 0.001 * width


def _headings(
    rows: list[list[str]], first: int, where: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names and units of the columns from the lines above the data."""
    width = len(rows[first])
    filled = max((k + 1 for k, cell in enumerate(rows[first]) if cell), default=width)
    numbered = tuple(f"column {k + 1}" for k in range(width))
    none = ("",) * width
    above = [row for row in rows[:first] if sum(bool(cell) for cell in row) >= 2]
    if not above:
        return numbered, none
    last = _padded(above[-1], width)
    if len(above[-1]) < filled:
        if 2 * len(above[-1]) < width:
            return numbered, none
        refuse(
            where,
            f"line {first + 1} has {filled} values under {len(above[-1])} headings: if these are "
            "decimal commas between commas, export with semicolons or decimal points",
        )
    if len(above) > 1 and _looks_like_units(last):
        return _named(_padded(above[-2], width), numbered), last
    return _named(last, numbered), none


def _named(row: tuple[str, ...], numbered: tuple[str, ...]) -> tuple[str, ...]:
    named = [cell.lstrip("#/ ").strip() or numbered[k] for k, cell in enumerate(row)]
    seen: Counter[str] = Counter()
    for k, name in enumerate(named):
        seen[name] += 1
        if seen[name] > 1:
            named[k] = f"{name} ({seen[name]})"
    return tuple(named)


def _padded(row: list[str], width: int) -> tuple[str, ...]:
    return tuple((row + [""] * width)[:width])


def _looks_like_units(row: tuple[str, ...]) -> bool:
    filled = [cell.strip("[]() ") for cell in row if cell]
    return (
        bool(filled)
        and all(len(cell) <= 8 for cell in filled)
        and any(
            cell.lower()
            in {"s", "ms", "v", "a", "w", "km/h", "m/s", "mph", "m", "°c", "rpm", "deg"}
            for cell in filled
        )
    )


def _decimal(rows: list[list[str]], separator: str) -> str:
    """The decimal mark most numbers use; a lone mark before three digits tells nothing."""
    votes: Counter[str] = Counter()
    for row in rows:
        for cell in row:
            match = NUMBER.fullmatch(cell)
            if match is None:
                continue
            grouped, mark = match[2], match[3]
            if mark and grouped != mark:
                votes[mark] += 1
            elif grouped in (".", ",") and match[1].count(grouped) > 1:
                votes["." if grouped == "," else ","] += 1
    if not votes:
        return "." if separator == "," else _by_groups(rows)
    return votes.most_common(1)[0][0]


def _by_groups(rows: list[list[str]]) -> str:
    """With nothing but numbers such as 12,345 in columns parted otherwise, a comma is decimal."""
    return "," if any("," in cell and is_number(cell) for row in rows for cell in row) else "."


def _first_text(lines: list[str]) -> int:
    return next(k for k, line in enumerate(lines, 1) if line.strip())
