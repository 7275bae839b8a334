"""What is read first, sent with the page itself: there before the scripts that bring it to life."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.answers.setups import compare
from dashboard.shell.shell import answered, badge, navigation
from dashboard.state.session import Session, View
from dashboard.widgets.page import Page
from dashboard.widgets.paint import markup, painted
from dashboard.widgets.setups_table import TABLE, cells, setups_table


def first_look(session: Session, view: View, page: Page) -> str:
    """Name, questions, answer and table of a page as HTML, out of reach of hand and reader.

    Args:
        session: The job.
        view: How it is looked at.
        page: The one that is asked for.
    """
    compared = compare(session)
    table = html.Section(
        painted(setups_table(session, view.units)[TABLE]), className="card setups-card"
    )
    body = html.Div(
        [html.Div(_sentences(page, compared, view), className="answer"), table], className="column"
    )
    shown = painted([_header(session, page), html.Div(body, className="main")])
    covered = {"id": "first-look", "inert": ""}
    return markup(
        {"tag": "div", "attributes": covered, "children": shown},
        cells(compared, page.columns(compared, view)),
    )


def _sentences(page: Page, compared: Any, view: View) -> Any:
    """The answer, where nothing in it has to live."""
    try:
        return painted(answered(page, compared, view))
    except TypeError:
        return []


def _header(session: Session, page: Page) -> Any:
    row = [
        html.Span("rimforce", className="wordmark"),
        html.Span(session.job.title, className="job-title"),
        badge(session),
        html.Div(className="header-tools"),
    ]
    return html.Header(
        [html.Div(row, className="header-row"), html.Nav(navigation(page.path, html.A))],
        className="header",
    )
