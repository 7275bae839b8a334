"""What goes in and out: job files, a link that carries the job, numbers and figures."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from curves.parts.reading import MOST_PAGE_BYTES
from dashboard.base import ids
from dashboard.widgets.attributes import attributes


def share_menu() -> Any:
    """One menu for everything that is opened or carried away."""
    return html.Details(
        [html.Summary("Open, share"), html.Div(_groups(), className="choices share")],
        className="menu",
        id=ids.SHARE,
    )


def _groups() -> list[Any]:
    return [
        _group(
            "Job",
            _choice("Start a new job …", ids.INTAKE_OPEN),
            dcc.Upload(
                html.Button("Open a job file …", className="choice"),
                id=ids.OPEN,
                max_size=MOST_PAGE_BYTES,
            ),
            _choice("Save as a job file", ids.SAVE, stays=True),
            _choice("Back to the job as opened", ids.RESET),
        ),
        _group(
            "Link that carries the whole job",
            html.Button("Copy a link to this job", id=ids.LINK_COPY, className="choice stays"),
            dmc.TextInput(
                id=ids.LINK,
                placeholder="Paste a link here to open it",
                size="xs",
                **attributes(aria_label="Link to a job"),
            ),
            html.P(id=ids.LINK_SAID, className="soft", **attributes(aria_live="polite")),
        ),
        _group("Report", dcc.Link("Make the report …", href="/report", className="choice")),
        _group(
            "Data of this page, every table on it",
            _choice("Page as a spreadsheet (CSV)", ids.SHARE_PAGE_CSV, stays=True),
            _choice("Page for other programs (JSON)", ids.SHARE_PAGE_JSON, stays=True),
        ),
        # The browser lists the figures of the page that is open.
        _group("Figures of this page", html.Div(id=ids.SHARE_FIGURES)),
        _group(
            "Every setup shown, over road speed",
            _choice("As a spreadsheet (CSV)", ids.SHARE_CSV, stays=True),
            _choice("For other programs (JSON)", ids.SHARE_JSON, stays=True),
        ),
        dcc.Store(id=ids.LINKED, data=False),
        dcc.Store(id=ids.SHARE_PAGE, data=False),
        html.P(id=ids.SHARE_SAID, className="share-said", **attributes(aria_live="polite")),
    ]


def _group(title: str, *inside: Any) -> Any:
    return html.Section([html.H2(title), *inside], className="share-group")


def _choice(said: str, name: str, stays: bool = False) -> Any:
    """A button; the menu stays open behind it for the next thing to be carried away, or closes."""
    return html.Button(said, id=name, className="choice stays" if stays else "choice")
