"""The shell around every page: name, job, pages, units, and the places that pages fill."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from curves.parts.invented import invented
from curves.parts.plausible import doubts
from dashboard.answers.setups import Comparison, compare
from dashboard.base import ids
from dashboard.base.theme import MANTINE
from dashboard.base.words import listed as together
from dashboard.base.words import unbroken
from dashboard.shell.empty import ways_out
from dashboard.shell.intake_form import intake
from dashboard.shell.registry import groups
from dashboard.shell.share import share_menu
from dashboard.shell.tour import steps, tour
from dashboard.shell.units_menu import units_menu
from dashboard.state.session import Session, View
from dashboard.widgets.attributes import attributes
from dashboard.widgets.listed import listed
from dashboard.widgets.marks import icon
from dashboard.widgets.page import Page
from dashboard.widgets.paint import place
from dashboard.widgets.setups_table import TABLE, cells, setups_table, structure
from dashboard.widgets.terms import marked, terms, told, with_leads

INVENTED = "Demonstration: the motor, packs and bike are ", "invented"


def shell(session: Session, view: View, page: Page) -> Any:
    """The whole page as first sent."""
    compared = compare(session)
    columns = page.columns(compared, view)
    return dmc.MantineProvider(
        [
            # What is empty here would be filled by the browser: a change that callbacks follow.
            dcc.Location(id=ids.URL, refresh="callback-nav", pathname=page.path),
            dcc.Store(id=ids.SERVED, data=session.data()),
            dcc.Store(id=ids.SESSION, data=session.data()),
            dcc.Store(id=ids.VIEW, data=view.data()),
            dcc.Store(id=ids.PAGE, data=page.path),
            dcc.Store(id=ids.SETTLED, data=0),
            dcc.Store(id=ids.KEPT, data=False),
            dcc.Store(id=ids.EDITING, data=False),
            dcc.Store(id=ids.FORM_UNITS, data=False),
            dcc.Store(id=ids.ACTED, data=False),
            dcc.Store(id=ids.paint(ids.CELLS), data=cells(compared, columns)),
            dcc.Store(id=ids.paint(ids.SETUPS), data=setups_table(session, view.units)),
            dcc.Store(id=ids.paint("words"), data={**told(), **steps()}),
            dcc.Store(id=ids.DRAWN, data=structure(session, view.units)),
            dcc.Download(id=ids.DOWNLOAD),
            html.A("To the answer", href="#answer", className="skip"),
            _header(session, view, page),
            html.Main(
                [
                    html.Div(
                        [
                            html.Div(
                                answered(page, compared, view),
                                id=ids.PAGE_ANSWER,
                                className="answer",
                            ),
                            html.Div(listed(session), id=ids.LISTED, className="listed"),
                            html.Section(
                                html.Div(**place(TABLE)),
                                className="card setups-card",
                                **attributes(aria_label="Setups"),
                            ),
                            html.Div(bodied(page, compared, view), id=ids.PAGE_BODY),
                        ],
                        className="column",
                        id="answer",
                    ),
                    html.Aside(
                        id=ids.FORM, className="form", **attributes(aria_label="Edit a part")
                    ),
                ],
                className="main",
            ),
            _footer(),
            intake(),
            terms(),
            tour(),
            html.Div(id=ids.MESSAGE, role="status", className="message"),
        ],
        theme=MANTINE,
        defaultColorScheme="auto",
        id="mantine",
    )


def answered(page: Page, compared: Comparison, view: View) -> list[Any]:
    """A page's answer, below what no light vehicle has; what to do while no setup is shown."""
    said = page.answer(compared, view)
    parts = said if isinstance(said, list) else [said]
    over = doubts([r.rig for r in compared.shown], compared.job.goals, view.units)
    if over:
        parts = [_demoted(part) for part in parts]
    return [*_doubted(over), *marked(parts), ways_out(compared)]


MOST_DOUBTS = 3
"""Values that no light vehicle has, named over an answer."""


def _doubted(over: Sequence[str]) -> list[Any]:
    """What leads an answer that rests on values no light vehicle has."""
    if not over:
        return []
    first, *rest = over
    more = [html.Li(unbroken(line)) for line in rest[: MOST_DOUBTS - 1]]
    if len(over) > MOST_DOUBTS:
        more.append(html.Li(f"{len(over) - MOST_DOUBTS} more such values: see “Take care”."))
    return [
        html.H1([html.Span("warning", className="severity warning"), " ", unbroken(first)]),
        html.Ul(more, className="more") if more else None,
    ]


def _demoted(part: Any) -> Any:
    """A headline as a plain sentence: what rests on a doubtful value celebrates nothing."""
    if not isinstance(part, html.H1):
        return part
    said = part.children
    return html.P(
        ["If it is: ", *(said if isinstance(said, list) else [said])], className="demoted"
    )


def bodied(page: Page, compared: Comparison, view: View) -> Any:
    """A page's body, in whose sentences terms tell what they mean."""
    return with_leads(page.body(compared, view))


def badge(session: Session) -> Any:
    """Says so where numbers are made up; of a job that has others too, in which parts."""
    found = invented(session.job)
    if not found:
        return None
    about, said = INVENTED
    if not (session.job.source or "").lower().startswith("invented"):
        counted = Counter(kind for kind, _, _ in found)
        kinds = [f"{kind}s" if n > 1 else kind for kind, n in counted.items()]
        about = f"Some values of {together(kinds)} are still "
    whole = [f"{kind} “{name}”: {n} invented value{'s' * (n > 1)}" for kind, name, n in found]
    known: list[Any] = [html.Span(about, className="at-length"), said]
    return html.Span(known, className="badge", title="\n".join(whole))


def navigation(path: str, link: Callable[..., Any] = dcc.Link) -> list[Any]:
    """Links to the groups of pages, and below them to the pages of the group that is open.

    On a phone they are behind a button that says which page is open.

    Args:
        path: Of the page that is open.
        link: What makes one.
    """
    known = groups()
    word, opened = next(
        (word, some) for word, some in known.items() if path in [page.path for page in some]
    )
    here = next(page.title for page in opened if page.path == path)
    folded = attributes(aria_expanded="false", aria_controls="pages")
    return [
        html.Button(here, type="button", className="pages-open", **folded),
        html.Div([link(name, **_to(some[0].path, name == word)) for name, some in known.items()]),
        html.Div([link(page.title, **_to(page.path, page.path == path)) for page in opened]),
    ]


def _to(path: str, here: bool) -> dict[str, str]:
    return {"href": path, "className": "page-link here" if here else "page-link"}


def _header(session: Session, view: View, page: Page) -> Any:
    return html.Header(
        [
            html.Div(
                [
                    html.Span("rimforce", className="wordmark"),
                    html.Span(session.job.title, id=ids.TITLE, className="job-title"),
                    html.Span(badge(session), id=ids.BADGE),
                    html.Div(_tools(view), className="header-tools"),
                ],
                className="header-row",
            ),
            html.Nav(navigation(page.path), id="pages", **attributes(aria_label="Questions")),
        ],
        className="header",
    )


def _tools(view: View) -> list[Any]:
    return [
        _button("undo", ids.UNDO, "Undo the last change"),
        _button("redo", ids.REDO, "Redo"),
        dmc.Button("Parts", id=ids.PARTS, variant="default", size="compact-sm"),
        share_menu(),
        units_menu(view.units),
        _button("theme", ids.THEME, "Light or dark"),
    ]


def _button(sign: str, name: str, told: str) -> Any:
    return dmc.ActionIcon(
        icon(sign), id=name, variant="subtle", size="lg", **attributes(aria_label=told)
    )


def _footer() -> Any:
    return html.Footer(
        [
            html.P(
                "Estimates from a steady-state model and the numbers given to it; a real bike "
                "differs. What the law allows on your road, and whether a pack, a controller and "
                "a frame bear what is asked of them, are for local law and for qualified people "
                "to say."
            ),
            html.P("Everything stays on this machine."),
            html.P(
                html.Button(
                    "What is this? All terms",
                    type="button",
                    className="what",
                    **attributes(data_term="kv"),
                )
            ),
        ],
        className="footer",
    )
