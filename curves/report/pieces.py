"""Pieces that the sections are made of: tables, figures with their numbers, names and amounts."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from curves.parts.labels import MAY_NOT_START
from curves.present import table as present
from curves.report.look import swatch
from curves.report.markup import Child, Markup, escape, join, tag
from curves.report.plot import NARROW, WIDE
from curves.report.results import Results, Speed
from curves.words import digits

MINUS = "−"
NONE = digits.NONE
_THOUSANDS = re.compile(r"\d(?=(?:\d{3})+(?!\d))")


class Column(NamedTuple):
    """A column of a table: its heading, what the heading means, and whether it holds words."""

    head: str
    meaning: str = ""
    words: bool = False


def table(
    columns: Sequence[Column],
    rows: Iterable[Sequence[Child]],
    *,
    caption: str,
    kind: str = "",
) -> Markup:
    """A table; the first cell of each row is its heading.

    Args:
        columns: of the table, the first for the rows' headings.
        rows: cells.
        caption: what the table is, for those who cannot see what it stands under.
        kind: classes: ``cards`` turns rows into cards on a phone, ``small`` is for appendices.
    """
    head = tag(
        "tr",
        [
            tag(
                "th",
                column.head,
                tag("small", column.meaning) if column.meaning else None,
                scope="col",
                class_="words" if column.words or k == 0 else None,
            )
            for k, column in enumerate(columns)
        ],
    )
    cards = "cards" in kind
    body = [tag("tr", _cells(columns, row, cards)) for row in rows]
    made = tag(
        "table",
        tag("caption", caption),
        tag("thead", head),
        tag("tbody", body),
        class_=kind or None,
    )
    return tag("div", made, class_="scroll", tabindex="0", role="region", aria_label=caption)


def results(
    found: Results, columns: Sequence[present.Column], *, caption: str, kind: str = ""
) -> Markup:
    """A table of results, the first column heading its rows.

    Args:
        found: for the units.
        columns: of the table.
        caption: as of ``table``.
        kind: as of ``table``.
    """
    heads = [Column(c.head, found.units.name(c.unit), c.has_words) for c in columns]
    rows = present.rows_of(columns, found.units, _fixed)
    return table(heads, rows, caption=caption, kind=kind)


def _fixed(value: float, places: int) -> str:
    return amount(digits.fixed(value, places))


def _cells(columns: Sequence[Column], row: Sequence[Child], cards: bool) -> list[Markup]:
    made = [tag("th", row[0], scope="row", class_="words")]
    for column, cell in zip(columns[1:], row[1:], strict=True):
        whole = ", ".join(filter(None, (column.head, column.meaning)))
        label = tag("span", whole, class_="cell-head", aria_hidden="true") if cards else None
        made.append(tag("td", label, cell, class_="words" if column.words else None))
    return made


def figure(
    title: str,
    lead: str,
    draw: Callable[[float], Markup],
    *,
    legend: Child = None,
    numbers: Child = None,
    behind: str = "The numbers behind it",
) -> Markup:
    """A drawing for paper and one for phones, with its title, its key and its numbers.

    Args:
        title: what it shows, with its unit.
        lead: how to read it, one sentence.
        draw: makes the drawing of a width in px.
        legend: its key.
        numbers: a table of what is drawn.
        behind: what to press to see that.
    """
    caption = tag(
        "figcaption", tag("h3", title), tag("p", lead, class_="soft") if lead else None, legend
    )
    folded = numbers and tag("details", tag("summary", behind), numbers, class_="numbers")
    return tag("figure", caption, draw(WIDE), draw(NARROW), folded)


def legend(found: Results) -> Markup:
    """The setups with their marks."""
    return tag("ul", [tag("li", name(found, k)) for k in range(len(found.rigs))], class_="legend")


def name(found: Results, k: int) -> Markup:
    """A setup's mark and name, whatever direction its letters run."""
    return tag("span", swatch(found.mark(k)), tag("bdi", found.rigs[k].name), class_="name")


def section(title: str, *children: Child, id_: str, lead: Child = None) -> Markup:
    """A part of the report under its heading."""
    return tag(
        "section",
        tag("h2", title),
        tag("p", lead, class_="lead") if lead else None,
        children,
        id=id_,
    )


def amount(written: str) -> str:
    """A written number with a real minus sign and its thousands set apart."""
    whole, dot, rest = written.partition(".")
    return _THOUSANDS.sub(lambda m: f"{m[0]},", whole).replace("-", MINUS) + dot + rest


def number(value: float, significant: int = 3) -> str:
    """A computed number with so many digits."""
    return amount(digits.digits(value, significant))


def signed(value: float, places: int) -> str:
    """A difference with its sign and so many decimals."""
    said = amount(f"{value:z.{places}f}") if math.isfinite(value) else NONE
    return said if said == NONE or said.startswith(MINUS) else f"+{said}"


def speed(found: Results, of: Speed, k: int) -> str:
    """One setup's road speed in the unit shown, with its band where it has one."""
    value, low, high = (float(x[k]) / found.per for x in (of.value, of.band.low, of.band.high))
    return amount(digits.spanned(value, low, high, none=MAY_NOT_START))


def given(value: object) -> str:
    """A value as the job gives it."""
    match value:
        case bool():
            return "yes" if value else "no"
        case int() | float():
            return amount(f"{value:.10g}")
        case tuple() | list():
            return ", ".join(given(item) for item in value)
        case _:
            return str(value)


def converted(found: Results, value: object, unit: str) -> str:
    """A value as the job gives it, in the unit that is read, which follows it."""
    written = found.units.written(value, unit, 4)
    return f"{given(written)} {found.units.name(unit)}".strip()


def listed(items: Iterable[str]) -> str:
    """Words as a list in a sentence."""
    words = list(items)
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1]))) if words else NONE


def names(found: Results, which: Iterable[int]) -> Markup:
    """Names of setups as a list."""
    return join([tag("span", name(found, k), " ") for k in which])


def paragraphs(text: str) -> list[Markup]:
    """A user's text: empty lines part paragraphs, line feeds stay."""
    blocks = [block.strip() for block in re.split(r"\n\s*\n", text.replace("\r\n", "\n"))]
    return [
        tag("p", join([[tag("br") if k else None, escape(x)] for k, x in enumerate(b.split("\n"))]))
        for b in blocks
        if b
    ]
