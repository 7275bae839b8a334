"""The tables of a page in one file, for spreadsheets and for other programs. No Dash app here."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from curves.present.serial import csv_line, json_text
from curves.present.table import Table
from dashboard.answers.setups import Comparison, Reading
from dashboard.widgets.paint import painted
from dashboard.widgets.setups_table import Column

FORMAT = "rimforce-page-1"
MOST_TABLES = 100
PARTS = ("", ", difference from {}", ", more")
"""What follows a heading above what stands in a cell."""
ASIDE = ("change", "soft")
"""Classes of what stands in a cell below its result: a difference, and words."""


def setups(compared: Comparison, columns: Sequence[Column]) -> Table:
    """The table of setups; what stands below a result gets a column of its own.

    Args:
        compared: The setups.
        columns: The page's.
    """
    readings, reference = compared.readings, compared.reference
    setup = [compared.job.setup[compared.session.index(r.slot)] for r in readings]
    head = ["Setup", "Shown", "Pack", "Tune"]
    made = [
        [r.name for r in readings],
        ["yes" if r.shown else "hidden" for r in readings],
        [s.pack for s in setup],
        [s.tune for s in setup],
    ]
    for column in columns:
        cells = [_cell(column, r, reference) for r in readings]
        for said, texts in zip(PARTS, zip(*cells, strict=True), strict=True):
            if any(texts) or not said:
                against = "" if reference is None else reference.name
                head.append(f"{column.head}{said.format(against)}")
                made.append(list(texts))
    return Table(head, [list(row) for row in zip(*made, strict=True)], "Setups compared")


def _cell(column: Column, r: Reading, reference: Reading | None) -> tuple[str, str, str]:
    """A cell's result, its difference, and the words with it."""
    tree = painted([column.cell(r, None if r is reference else reference)])
    own: dict[str, list[str]] = {"": [], **{name: [] for name in ASIDE}}
    for name, text in _texts(tree, ""):
        own[name].append(text)
    joined = (" ", " ", "; ")
    result, change, soft = (
        texts[0] if len(texts) == 1 else mark.join(" ".join(text.split()) for text in texts)
        for mark, texts in zip(joined, own.values(), strict=True)
    )
    return (result, change, soft) if result else (soft, change, "")


def _texts(tree: Any, within: str) -> Iterator[tuple[str, str]]:
    """Texts of a painted tree, each with its class of ``ASIDE``; what opens stays closed."""
    if isinstance(tree, str):
        yield within, tree
    elif isinstance(tree, list):
        for item in tree:
            yield from _texts(item, within)
    elif tree["tag"] == "details":
        yield from _texts(tree["children"][0]["children"], "")
    elif tree["attributes"].get("class") in ASIDE:
        inside = [text for _, text in _texts(tree["children"], "")]
        yield tree["attributes"]["class"], inside[0] if len(inside) == 1 else " ".join(inside)
    else:
        yield from _texts(tree["children"], within)


def sent(found: Any) -> list[Table]:
    """Tables as the browser sends those that it alone has; what is none, or empty, is left out."""
    tables = []
    for one in (found if isinstance(found, list) else [])[:MOST_TABLES]:
        rows = one.get("rows") if isinstance(one, dict) else None
        if isinstance(rows, list) and rows and all(isinstance(row, list) for row in rows):
            head, *cells = [[_sent(cell) for cell in row] for row in rows]
            if filled := [row for row in cells if any(cell != "" for cell in row)]:
                tables.append(Table([str(x) for x in head], filled, str(one.get("title", ""))))
    return tables


def _sent(cell: Any) -> str | float:
    is_number = isinstance(cell, int | float) and not isinstance(cell, bool)
    return cell if is_number and math.isfinite(cell) else str(cell)


def as_csv(tables: Sequence[Table]) -> str:
    """One below the other, each under its title, a blank line between."""
    rows: list[Sequence[object]] = []
    for table in tables:
        rows += [[], *([[table.caption]] if table.caption else []), table.columns, *table.rows]
    return "".join(map(csv_line, rows[1:]))


def as_json(title: str, job: str, tables: Sequence[Table]) -> str:
    """Every table with its headings and rows; what is a number is one.

    Args:
        title: The page's.
        job: Title of the job.
        tables: The page's.
    """
    made = [
        {
            "title": table.caption,
            "columns": list(table.columns),
            "rows": [list(row) for row in table.rows],
        }
        for table in tables
    ]
    return json_text({"format": FORMAT, "page": title, "job": job, "tables": made})
