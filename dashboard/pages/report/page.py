"""What do I hand over? The report of the setups: what goes in, a preview, and the file."""

from __future__ import annotations

import importlib.util
from base64 import b64encode
from collections.abc import Sequence
from functools import cache
from typing import Any

from dash import Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate

from curves import JobError
from curves.report import write
from curves.report.pdf import pdf
from dashboard.answers.setups import Comparison, read
from dashboard.base import ids
from dashboard.base.words import unbroken
from dashboard.pages.report import report_form
from dashboard.pages.report.report_form import SETUPS, choices, field
from dashboard.pages.report.study import made, work, worked_out
from dashboard.state.session import View
from dashboard.widgets import result_columns as results
from dashboard.widgets.attributes import attributes
from dashboard.widgets.in_browser import in_browser
from dashboard.widgets.page import Page
from dashboard.widgets.progress import WORKING, fill, place
from dashboard.widgets.setups_table import Column

KEY = "report"
PREVIEW, SAVE, SAVE_PDF = "report-preview", "report-save", "report-save-pdf"
SAVED = "report-saved"
NO_PDF = (
    "For a PDF print the saved page from the browser, or install one more package: "
    "pip install 'rimforce[pdf]'."
)


def answer(compared: Comparison, view: View) -> Any:
    """What the report leads with, and what is in it."""
    if not compared.shown:
        return html.H1("Show a setup to write a report of it.")
    try:
        found = made(compared, view)
    except JobError as error:
        return html.H1(error.problems[0].message)
    if found is None:
        return html.H1(f"Writing the report {WORKING}")
    count = len(found.rigs)
    more = [
        f"One file of {count} setup{'s' * (count > 1)}: pages for the customer, one for whoever "
        "sets the controller, and every input with its source.",
        "It opens without a network, prints on A4 and Letter, and carries the job, so that it "
        "can be opened here again.",
        "Setups hidden in the table stay out of it.",
    ]
    return [
        html.H1(f"The report says: {unbroken(found.answer.headline)}"),
        html.Div(
            [
                *[_button(name) for name in _buttons()],
                html.Span(id=SAVED, role="status"),
                report_form.way_there(),
            ],
            className="report-files",
        ),
        html.Ul([html.Li(x) for x in more], className="more"),
    ]


def columns(compared: Comparison, view: View) -> Sequence[Column]:
    """What the report's first table tells."""
    return [
        results.fit_column(compared, view),
        results.volts_column(),
        *results.speed_columns(compared, view),
        results.limit_column(compared, view),
        results.care_column(compared, view),
    ]


def body(compared: Comparison, view: View) -> Any:
    """What goes in, and the report itself."""
    return [report_form.form(compared, view), place(KEY, view), _report(compared, view)]


def _report(compared: Comparison, view: View) -> Any:
    page = _page(compared, view)
    return html.Section(
        [
            html.Div(html.H2("The report"), className="card-head"),
            None if SAVE_PDF in _buttons() else html.P(NO_PDF, className="note soft"),
            # Without rights: nothing in it may run, whatever a job's texts hold.
            html.Iframe(
                srcDoc=page,
                id=PREVIEW,
                sandbox="",
                className="preview",
                title="Preview of the report",
            ),
        ],
        className="card",
        **attributes(aria_label="The report"),
    )


def _button(name: str) -> Any:
    """What saves the report, at hand as soon as there is one."""
    said = {SAVE: "Save the report", SAVE_PDF: "Save as PDF"}[name]
    return html.Button(said, id=name, type="button", className="save")


@cache
def _buttons() -> tuple[str, ...]:
    """A PDF only where the package for it is installed."""
    return (SAVE, SAVE_PDF) if importlib.util.find_spec("weasyprint") else (SAVE,)


def _page(compared: Comparison, view: View) -> str:
    """The report, empty while there is none."""
    try:
        found = made(compared, view)
    except JobError:
        return ""
    return "" if found is None else write(found)


def register(app: Dash) -> None:
    """The report follows the job and what is typed; it is worked out in the background."""
    fill(app, KEY, worked_out, work)
    report_form.register(app)
    kept = (State(ids.SESSION, "data"), State(ids.VIEW, "data"))

    @app.callback(
        Output(PREVIEW, "srcDoc"),
        *[Output(field(name), "data") for name in SETUPS],
        Input(ids.SETTLED, "data"),
        *kept,
        prevent_initial_call=True,
    )
    def show(_rested: Any, session: Any, view: Any) -> Any:
        compared, looked = read(session, view)
        page = _page(compared, looked)
        return page, *choices(compared)

    for button in _buttons():
        _saving(app, button)
    in_browser(
        app,
        "rimforceShare",
        "savedReport",
        Output(SAVED, "children"),
        Input(ids.DOWNLOAD, "data"),
        # Told anew, the answer has lost the sign.
        Input(ids.PAGE_ANSWER, "children"),
        *kept,
    )


def _saving(app: Dash, button: str) -> None:
    @app.callback(
        Output(ids.DOWNLOAD, "data", allow_duplicate=True),
        Output(ids.MESSAGE, "children", allow_duplicate=True),
        Input(button, "n_clicks"),
        State(ids.SESSION, "data"),
        State(ids.VIEW, "data"),
        running=[(Output(button, "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def save(clicks: Any, session: Any, view: Any) -> Any:
        page = _page(*read(session, view)) if clicks else ""
        if not page:
            raise PreventUpdate
        if button == SAVE:
            return _file("report.html", page, "text/html"), ""
        try:
            return _file("report.pdf", pdf(page), "application/pdf"), ""
        except JobError as error:
            return no_update, error.problems[0].message


def _file(name: str, content: str | bytes, kind: str) -> dict[str, Any]:
    """A file for the browser to save."""
    named = {"filename": name, "type": kind}
    if isinstance(content, bytes):
        return {**named, "content": b64encode(content).decode(), "base64": True}
    return {**named, "content": content, "base64": False}


PAGE = Page("/report", "What do I hand over?", answer, body, columns, register)
