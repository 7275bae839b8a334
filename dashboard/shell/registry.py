"""Which pages there are."""

from __future__ import annotations

from dashboard.pages.bench import page as what_motor
from dashboard.pages.cells import page as how_many_cells
from dashboard.pages.gearing import page as gearing
from dashboard.pages.heat import page as stay_cool
from dashboard.pages.log import page as was_it_right
from dashboard.pages.range import page as how_far
from dashboard.pages.recheck import page as does_it_agree
from dashboard.pages.report import page as report
from dashboard.pages.runs import page as how_quick
from dashboard.pages.search import page as which_setup
from dashboard.pages.two_inputs import page as any_two
from dashboard.pages.uncertainty import page as how_sure
from dashboard.pages.weakening import page as how_much_weakening
from dashboard.pages.weakest_link import page as what_gives
from dashboard.pages.which_pack import page as which_pack
from dashboard.widgets.page import Page


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
