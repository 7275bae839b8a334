"""What the columns of a log mean: a proposal from names, units and values, for a person to confirm.

Touches no file.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from curves.measured.clock import is_clock
from curves.measured.dialect import EMPTY, Dialect, is_number, numbers
from curves.measured.vocabulary import (
    CLOCK_UNIT,
    PLAIN,
    QUANTITIES,
    SAID_BY_UNIT,
    SINGLE,
    UNITS,
    Quantity,
)
from curves.parts.problems import suggest
from curves.parts.reading import refuse, show


@dataclass(frozen=True)
class Column:
    """One column's meaning.

    Attributes:
        quantity: One of ``QUANTITIES``.
        name: Its heading.
        index: Its place, from 0.
        unit: As in ``UNITS``.
        sure: Whether name and unit say it; false where the unit is a guess.
        why: What the guess rests on.
    """

    quantity: str
    name: str
    index: int
    unit: str
    sure: bool = True
    why: str = ""


def propose(dialect: Dialect) -> tuple[Column, ...]:
    """The likeliest meaning of each column, at most one column a quantity.

    Args:
        dialect: how the table is written, with its headings and first lines.
    """
    best: dict[str, tuple[float, Column]] = {}
    for index, name in enumerate(dialect.names):
        said = dialect.units[index] if index < len(dialect.units) else ""
        values = [row[index] for row in dialect.sample if index < len(row)]
        for quantity, about in QUANTITIES.items():
            score, unit = _match(name, said, about)
            before = best[quantity][0] if quantity in best else 0.0
            if score > before and _holds(values, quantity):
                column = _with_unit(Column(quantity, name, index, unit), values, dialect.decimal)
                best[quantity] = (score, column)
    clock = None if "time" in best else _clockwork(dialect) or _called_time(dialect)
    if clock is not None:
        best["time"] = (0.1, clock)
    return _one_use(best)


def confirm(
    proposal: tuple[Column, ...], dialect: Dialect, said: Mapping[str, str]
) -> tuple[Column, ...]:
    """The proposal with what a person says in its place.

    Args:
        proposal: as ``propose`` gives it.
        dialect: how the table is written.
        said: quantity to heading, or to heading and unit parted by ``:``; an empty text takes the
            quantity out.

    Raises:
        JobError: if there is no such quantity, heading or unit.
    """
    columns = {column.quantity: column for column in proposal}
    for quantity, text in said.items():
        if quantity not in QUANTITIES:
            near = suggest(quantity, list(QUANTITIES))
            hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(QUANTITIES)}"
            refuse("columns", f"there is no such quantity; {hint}", show(quantity))
        if not text:
            columns.pop(quantity, None)
            continue
        columns[quantity] = _said(quantity, text, dialect)
    return tuple(columns.values())


def _said(quantity: str, text: str, dialect: Dialect) -> Column:
    kind = QUANTITIES[quantity].kind
    name, unit = text, ""
    if text not in dialect.names and ":" in text:
        name, _, unit = text.rpartition(":")
    if name not in dialect.names:
        near = suggest(name, list(dialect.names))
        hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(dialect.names)}"
        refuse("columns", f"the log has no column of that name; {hint}", show(name))
    index = dialect.names.index(name)
    values = [row[index] for row in dialect.sample if index < len(row)]
    if unit:
        if unit.lower() not in UNITS[kind]:
            refuse("columns", f"is no unit of {quantity}; known are {', '.join(UNITS[kind])}", unit)
        return Column(quantity, name, index, unit.lower())
    _, found = _match(name, dialect.units[index], QUANTITIES[quantity])
    return _with_unit(Column(quantity, name, index, found), values, dialect.decimal)


def _match(name: str, said: str, about: Quantity) -> tuple[float, str]:
    """How well a heading fits a quantity (0: not), and the unit it states, or none."""
    units = UNITS[about.kind]
    bare, unit = _bracketed(name, said.strip("[]() ").lower())
    if unit and unit not in units:
        return 0.0, ""
    words = _words(SINGLE.get(bare, bare))
    if not unit and bare.lower() in units and bare not in SINGLE:
        unit = bare.lower()
    # A unit may end the name: speed_kmh, "speed in km/h".
    tail = re.split(r"[\s_,]+", bare.lower())[-1]
    if not unit and len(words) > 1 and tail in units and tail != bare.lower():
        unit = tail
        words = [word for word in words if word not in _words(tail)]
        said_by_unit = SAID_BY_UNIT.get(about.kind)
        words += [said_by_unit] if said_by_unit and said_by_unit not in words else []
    score = 0.0 if set(words) & set(about.unlike) else _likeness(words, about.words)
    return (score + 0.5 * bool(unit) if score else 0.0), unit


def _bracketed(name: str, unit: str) -> tuple[str, str]:
    """A heading without the unit it holds in brackets, and the unit."""
    found = re.search(r"[\[(<]\s*([^\])>]+?)\s*[\])>]", name)
    if found and any(found[1].lower() in known for known in UNITS.values()):
        return name.replace(found[0], " ").strip(), unit or found[1].lower()
    return name.strip(), unit


def _likeness(words: list[str], phrases: tuple[str, ...]) -> float:
    """How well words fit the best of some phrases: 3 and more if wholly, 0 if not at all."""
    joined, score = " ".join(words), 0.0
    for phrase in phrases:
        parts = phrase.split()
        if joined.replace(" ", "") == phrase.replace(" ", ""):
            score = max(score, 3.0 + 0.1 * len(parts))
        elif len(phrase) > 2 and set(parts) <= set(words):
            score = max(score, 2.0 + 0.1 * len(parts) - 0.05 * len(words))
        elif len(phrase) > 4 and phrase in joined:
            score = max(score, 1.0)
    return score


def _words(name: str) -> list[str]:
    """A heading as plain lower-case words: accents off, camel case and marks split."""
    plain = unicodedata.normalize("NFKD", name.replace("ß", "ss"))
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    plain = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", plain)
    return [word for word in re.split(r"[^a-z0-9]+", plain.lower()) if word]


def _holds(values: list[str], quantity: str) -> bool:
    """Whether the first cells can be values of a quantity."""
    filled = [value for value in values if value.lower() not in EMPTY]
    if not filled:
        return False
    good = sum(is_number(value) or (quantity == "time" and is_clock(value)) for value in filled)
    return good >= 0.8 * len(filled)


def _with_unit(column: Column, values: list[str], decimal: str) -> Column:
    """The column with its unit: as stated, or as its values suggest."""
    if column.quantity == "time":
        return _time_unit(column, values, decimal)
    if column.unit:
        return column
    about = QUANTITIES[column.quantity]
    if about.kind in PLAIN:
        return replace(column, unit=about.usual)
    why = "no unit is given: the usual one is taken"
    return replace(column, unit=about.usual, sure=False, why=why)


def _time_unit(column: Column, values: list[str], decimal: str) -> Column:
    filled = [value for value in values if value.lower() not in EMPTY]
    if sum(is_clock(value) for value in filled) > len(filled) / 2:
        return replace(column, unit=CLOCK_UNIT, sure=True)
    times = np.array(numbers(filled, decimal))
    steps = np.diff(times)
    step = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 0.0
    level = float(np.median(np.abs(times))) if times.size else 0.0
    if column.unit and not (column.unit == "s" and level > 1e11):
        return column
    for unit, least in (("us", 1e14), ("ms", 1e11)):
        if level > least:
            return replace(column, unit=unit, why="counted from 1970")
    if 20_000 < level < 100_000 and 0 < step < 0.01:
        return replace(column, unit="d", sure=False, why="looks like a spreadsheet's days")
    whole = bool(np.all(times == np.round(times)))
    if level < 1e9 and whole and step >= 5:
        return replace(column, unit="ms", sure=False, why="whole numbers in steps of 5 or more")
    sure = 0 < step < 1 or level > 1e9
    return replace(column, unit="s", sure=sure, why="" if sure else "no unit is given")


def _clockwork(dialect: Dialect) -> Column | None:
    """A column that is a clock whatever its name, or whose numbers never fall and mostly rise."""
    rising: list[tuple[float, int]] = []
    for index, name in enumerate(dialect.names):
        values = [row[index] for row in dialect.sample if index < len(row)]
        if values and sum(is_clock(value) for value in values) > 0.8 * len(values):
            return Column("time", name, index, CLOCK_UNIT, sure=False, why="holds clock times")
        clock = np.array(numbers(values, dialect.decimal))
        if clock.size > 4 and clock.size == len(values) and np.all(np.diff(clock) > 0):
            evenness = np.std(np.diff(clock)) / np.mean(np.diff(clock))
            rising.append((float(evenness), index))
    if not rising or min(rising)[0] > 0.5:
        return None
    index = min(rising)[1]
    column = Column("time", dialect.names[index], index, "", sure=False)
    values = [row[index] for row in dialect.sample if index < len(row)]
    found = _time_unit(column, values, dialect.decimal)
    return replace(found, sure=False, why="its values rise in even steps")


def _called_time(dialect: Dialect) -> Column | None:
    """A column that calls itself a time, whatever it holds: reading it will tell what is wrong."""
    for index, name in enumerate(dialect.names):
        score, unit = _match(name, dialect.units[index], QUANTITIES["time"])
        if score >= 3:
            return Column("time", name, index, unit or "s")
    return None


def _one_use(best: Mapping[str, tuple[float, Column]]) -> tuple[Column, ...]:
    """Each column under the quantity it fits best."""
    taken: dict[int, tuple[float, Column]] = {}
    for score, column in best.values():
        if score > taken.get(column.index, (0.0, column))[0]:
            taken[column.index] = (score, column)
    return tuple(column for _, column in sorted(taken.values(), key=lambda item: item[1].index))
