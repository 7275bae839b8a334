"""What does not fit and what is risky, each with its number and where its limit comes from."""

from __future__ import annotations

from typing import NamedTuple

from curves.report.markup import Child, Markup, tag
from curves.report.pieces import Column, names, section, table
from curves.report.results import Results

GRADES = {
    "breaks": "Does not fit",
    "change": "Change a setting",
    "danger": "Danger",
    "warning": "Warning",
    "notice": "Notice",
}
REMINDER = "reminder"
ORDER = (*GRADES, REMINDER)


class Entry(NamedTuple):
    """A caution, and the setups it is about in these very words."""

    grade: str
    title: str
    text: str
    source: str
    whose: list[int]


def risks(found: Results) -> Markup:
    """Cautions, the worst first, and what every such bike needs looking after."""
    entries = _entries(found)
    serious = [e for e in entries if e.grade != REMINDER]
    rows: list[list[Child]] = [
        [
            tag("b", GRADES[e.grade]),
            names(found, e.whose),
            [e.text, tag("span", e.source, class_="source") if e.source else None],
        ]
        for e in serious
    ]
    columns = [
        Column("How serious"),
        Column("Setups", words=True),
        Column("What, why, and where the limit comes from", words=True),
    ]
    reminders = [
        tag("li", e.text, tag("span", e.source, class_="source") if e.source else None)
        for e in _one_each(found, entries)
    ]
    return section(
        "Cautions",
        table(columns, rows, caption="Cautions", kind="cards cautions")
        if rows
        else tag("p", "Nothing in the job speaks against any of these setups."),
        tag("h3", "For every setup"),
        tag("ul", reminders, class_="notes"),
        id_="cautions",
        lead=(
            "General information and estimates, not advice. Where a rating is not in the job, "
            "nothing was held against it."
        ),
    )


def _entries(found: Results) -> list[Entry]:
    """Every reason and caution once, with all setups for which it reads the same."""
    made: dict[tuple[str, str], Entry] = {}
    for k in range(len(found.rigs)):
        reasons = [(r.status, r.key, r.text, r.source) for r in found.fits[k].against]
        cautions = [(c.severity, c.title, c.text, c.source) for c in found.cautions[k]]
        for grade, title, text, source in (*reasons, *cautions):
            entry = made.setdefault((grade, text), Entry(grade, title, text, source, []))
            entry.whose.append(k)
    return sorted(made.values(), key=lambda e: ORDER.index(e.grade))


def _one_each(found: Results, entries: list[Entry]) -> list[Entry]:
    """One of each reminder: that of the setup for which its number is highest."""
    most: dict[str, tuple[float, Entry]] = {}
    values = {
        c.text: c.value or 0.0 for setup in found.cautions for c in setup if c.severity == REMINDER
    }
    for entry in entries:
        if entry.grade == REMINDER:
            value = values[entry.text]
            if entry.title not in most or value > most[entry.title][0]:
                most[entry.title] = (value, entry)
    return [entry for _, entry in most.values()]
