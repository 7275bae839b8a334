"""What a page is, and which there are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from dashboard.components.setups_table import Column
from dashboard.results import Comparison
from dashboard.state import View


@dataclass(frozen=True)
class Page:
    """A question and where its answer comes from.

    Attributes:
        path: Address, such as ``/`` or ``/runs``.
        title: The question, as it stands in the bar.
        answer: What leads the page: one sentence with its numbers, or more below it.
        body: Plots and tables under the table of setups.
        columns: Result columns of the table of setups on this page.
        register: Wires the page's own callbacks to the app, once.
    """

    path: str
    title: str
    answer: Callable[[Comparison, View], Any]
    body: Callable[[Comparison, View], Any]
    columns: Callable[[Comparison, View], Sequence[Column]]
    register: Callable[[Any], None]


def groups() -> dict[str, tuple[Page, ...]]:
    """Every page under the word its group goes by; the first opens."""
    from dashboard.pages import (
        any_two,
        does_it_agree,
        gearing,
        how_far,
        how_many_cells,
        how_much_weakening,
        how_quick,
        how_sure,
        report,
        stay_cool,
        was_it_right,
        what_gives,
        what_motor,
        which_pack,
        which_setup,
    )

    modules = {
        "Choose": (
            which_pack,
            how_many_cells,
            how_much_weakening,
            gearing,
            which_setup,
            any_two,
        ),
        "Ride": (how_quick, stay_cool, how_far),
        "Trust": (how_sure, what_gives),
        "Measure": (what_motor, was_it_right, does_it_agree),
        "Hand over": (report,),
    }
    return {word: tuple(module.PAGE for module in some) for word, some in modules.items()}


def pages() -> tuple[Page, ...]:
    """Every page; the first opens."""
    return tuple(page for some in groups().values() for page in some)


def page_at(path: str | None) -> Page:
    """The page of an address, the first one where there is none."""
    known = pages()
    return next((page for page in known if page.path == (path or "/")), known[0])
