"""Which pages there are."""

from __future__ import annotations

from dashboard.page import Page
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


def groups() -> dict[str, tuple[Page, ...]]:
    """Every page under the word its group goes by; the first opens."""
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
