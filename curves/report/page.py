"""The report as one file: everything in it, nothing fetched, nothing run."""

from __future__ import annotations

from curves import __version__
from curves.parts.job import Job
from curves.parts.plausible import doubts
from curves.report.assumptions import assumptions, sureness
from curves.report.carried import carry
from curves.report.endurance import endurance
from curves.report.first_ride import first_ride
from curves.report.look import style
from curves.report.markup import Markup, tag
from curves.report.outcomes import timed, top_speeds
from curves.report.over_speed import over_speed
from curves.report.pieces import paragraphs
from curves.report.results import Results, results
from curves.report.risks import risks
from curves.report.settings import modes, settings
from curves.report.setups import setups
from curves.report.small_print import model_limits, safety
from curves.report.swept import studies
from curves.report.wish import Wish

POLICY = "default-src 'none'; style-src 'unsafe-inline'; font-src data:; base-uri 'none'"
"""What a browser may load for it: nothing but what is in it."""


def report(job: Job, wish: Wish | None = None) -> str:
    """The customer's page and the page for the controller, as the text of one HTML file.

    The same job and wish give the same text.

    Args:
        job: what is compared.
        wish: title, notes, studies and so on.

    Raises:
        JobError: if a setup that is asked for does not exist, or a study cannot be made of it.
    """
    return write(results(job, wish or Wish()))


def write(found: Results) -> str:
    """The same from results in hand, which take most of the time.

    Args:
        found: as ``results`` gives them; title, notes, workshop and date may have changed since.
    """
    title = found.wish.title or found.job.title
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=POLICY),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("meta", name="generator", content=f"rimforce {__version__}"),
        tag("title", title),
        tag("style", Markup(style())),
    )
    body = tag(
        "body",
        tag("main", _customer(found, title), _controller(found, title), _appendix(found)),
        carry(found.job),
    )
    return f'<!DOCTYPE html>\n<html lang="en">\n{head}\n{body}\n</html>\n'


def _customer(found: Results, title: str) -> Markup:
    return tag(
        "article",
        _masthead(found),
        tag("h1", tag("bdi", title)),
        _answer(found),
        tag("div", paragraphs(found.wish.notes), class_="user-notes")
        if found.wish.notes.strip()
        else None,
        _contents(found),
        setups(found),
        over_speed(found),
        top_speeds(found),
        timed(found),
        endurance(found),
        studies(found),
        risks(found),
        safety(),
        sureness(found),
        model_limits(),
    )


def _answer(found: Results) -> list[Markup]:
    """What leads the report; what no light vehicle has leads the rest."""
    said = [found.answer.headline, *found.answer.more]
    over = doubts(found.rigs, found.job.goals, found.units)
    if over:
        said[0] = f"If it is: {said[0]}"
    first, *rest = [*over, *said]
    return [tag("p", first, class_="answer"), *(tag("p", line, class_="more") for line in rest)]


def _controller(found: Results, title: str) -> Markup:
    return tag(
        "article",
        _masthead(found),
        tag("p", tag("bdi", title), class_="again"),
        settings(found),
        first_ride(found),
        modes(found),
        class_="sheet",
    )


def _appendix(found: Results) -> Markup:
    return tag("article", assumptions(found), _colophon(), class_="sheet")


def _masthead(found: Results) -> Markup:
    return tag(
        "header",
        tag("span", tag("bdi", found.wish.workshop), class_="workshop"),
        tag("span", found.wish.date, class_="date"),
        class_="masthead",
    )


CONTENTS = {
    "setups": "Setups",
    "curves": "Over road speed",
    "top-speed": "Top speed",
    "runs": "Standing start",
    "endurance": "How warm, how far",
    "studies": "Studies",
    "cautions": "Cautions",
    "sure": "How sure",
    "settings": "For the controller",
    "inputs": "Every input",
}


def _contents(found: Results) -> Markup:
    """Where to find what, on a screen."""
    left_out = {"studies": not found.wish.has_studies, "endurance": found.endurance is None}
    there = {place: said for place, said in CONTENTS.items() if not left_out.get(place)}
    return tag(
        "nav",
        [tag("a", said, href=f"#{id_}") for id_, said in there.items()],
        aria_label="Contents",
    )


def _colophon() -> Markup:
    return tag(
        "p",
        f"Made with rimforce {__version__}. This file carries its job: open it in rimforce to go "
        "on from here. ",
        tag("span", "The tables behind the figures are in the file too.", class_="paper-only"),
        class_="colophon",
    )
