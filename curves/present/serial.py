"""What a program reads: JSON, and rows for spreadsheets, piece by piece."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from curves.plaintext import no_formula
from curves.words.digits import Written


def json_text(document: Mapping[str, object]) -> str:
    """JSON of plain values and arrays, NaN and infinite as null, one line at the end."""
    return "".join(json_pieces(document))


def json_pieces(document: Mapping[str, object]) -> Iterator[str]:
    """What ``json_text`` gives, piece by piece.

    Args:
        document: Plain values and arrays; a list that may be long is given as what makes its items.
    """
    before = "{"
    for key, value in document.items():
        yield f"{before}{_json(str(key))}: "
        before = ", "
        if not callable(value):
            yield _json(value)
            continue
        gap = "["
        for item in value():
            yield gap + _json(item)
            gap = ", "
        yield "[]" if gap == "[" else "]"
    yield "{}\n" if before == "{" else "}\n"


def _json(value: object) -> str:
    # ASCII alone is right whatever encoding the terminal or pipe has.
    return json.dumps(plain(value), allow_nan=False)


def plain(value: object) -> Any:
    """Arrays and NumPy numbers as lists and numbers; what is not finite as None."""
    match value:
        case np.ndarray():
            return plain(value.tolist())
        case Mapping():
            return {str(key): plain(item) for key, item in value.items()}
        case list() | tuple():
            return [plain(item) for item in value]
        case Written():
            return _of_six(value.value) if math.isfinite(value.value) else str(value)
        case np.generic():
            return plain(value.item())
        case float():
            return value if math.isfinite(value) else None
        case _:
            return value


def _of_six(value: float) -> float | int:
    """Digits that mean something, for one who reads the file."""
    short = float(f"{value:.6g}")
    return int(short) if short.is_integer() else short


def csv_text(rows: Iterable[Mapping[str, object]]) -> str:
    """Rows as comma-separated values; no text in them can act as a formula."""
    return "".join(csv_pieces(rows))


def csv_pieces(rows: Iterable[Mapping[str, object]]) -> Iterator[str]:
    """What ``csv_text`` gives, line by line."""
    for k, row in enumerate(rows):
        if k == 0:
            yield csv_line(list(row))
        yield csv_line(list(row.values()))


def csv_line(cells: Sequence[object]) -> str:
    """Values separated by commas; no text in them can act as a formula.

    Args:
        cells: Plain values, arrays, or numbers as people read them.
    """
    line = _Line()
    csv.writer(line).writerow([_cell(value) for value in cells])
    return line.text


class _Line:
    """Where a line is written before it goes on."""

    text = ""

    def write(self, text: str) -> None:
        """Take in a line."""
        self.text = text


def _cell(value: object) -> str | float | int:
    value = plain(value)
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case int() | float():
            return value
        case list():
            text = "; ".join(str(item) for item in value)
        case _:
            text = str(value)
    return no_formula(text)
