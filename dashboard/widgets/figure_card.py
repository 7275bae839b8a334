"""A figure: what it says in one sentence, the plot, and the same numbers as a table."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from curves.present.table import Column, Table, rows_of
from curves.units import Units
from curves.words.digits import Written
from dashboard.base import ids
from dashboard.base.words import number
from dashboard.widgets.attributes import attributes
from dashboard.widgets.terms import marked, question, term_of

CONFIG: dcc.Graph.Config = {
    "displaylogo": False,
    "showSendToCloud": False,
    "displayModeBar": "hover",
    "modeBarButtonsToRemove": ["toImage", "select2d", "lasso2d", "zoomIn2d", "zoomOut2d", "pan2d"],
    "responsive": True,
    "doubleClick": "reset",
}


def figure_card(
    key: str,
    title: str,
    sentence: Any,
    figure: dict[str, Any],
    told: str,
    *tools: Any,
    above: Any = None,
) -> Any:
    """A card with a plot.

    Args:
        key: Names the plot for callbacks: ``ids.figure(key)`` and the others.
        title: A heading, short.
        sentence: What the plot says, in one sentence.
        figure: A tree that ``go.Figure`` accepts.
        told: What the plot shows, for those who do not see it.
        tools: What changes the plot, beside its heading.
        above: What is moved along the plot, right above it.
    """
    height = figure["layout"]["height"]
    return html.Section(
        [
            html.Div(
                [html.H2(title), html.P(sentence, id=ids.sentence(key), className="lead"), *tools],
                className="card-head",
            ),
            above,
            html.Figure(
                dcc.Graph(
                    id=ids.figure(key),
                    figure=figure,
                    config=CONFIG,
                    style={"height": f"{height}px"},
                    responsive=True,
                ),
                **attributes(aria_label=f"{told} The same numbers are in the table below."),
            ),
            dmc.Accordion(
                dmc.AccordionItem(
                    [
                        dmc.AccordionControl("The numbers"),
                        dmc.AccordionPanel(html.Div(id=ids.numbers_body(key))),
                    ],
                    value="numbers",
                ),
                id=ids.numbers(key),
                className="numbers",
                chevronPosition="left",
                order=3,
            ),
        ],
        className="card",
        **attributes(aria_label=title),
    )


def numbers_table(head: Sequence[str], rows: Sequence[Sequence[str | float]], caption: str) -> Any:
    """Numbers of a plot, the first column naming the row.

    The browser sorts it by a column whose heading is pressed, and saves it as it stands.
    """
    return html.Div(
        [
            html.Div(
                html.Table(
                    [
                        html.Caption(marked(caption)),
                        html.Thead(html.Tr([_heading(h) for h in head])),
                        html.Tbody(
                            [
                                html.Tr(
                                    [
                                        _cell(html.Th, row[0], scope="row"),
                                        *(_cell(html.Td, text) for text in row[1:]),
                                    ]
                                )
                                for row in rows
                            ]
                        ),
                    ],
                    className="plain",
                ),
                className="scroll",
                tabIndex=0,
                role="region",
                **attributes(aria_label=caption),
            ),
            html.Button("Save as CSV", type="button", className="tool worded save-table"),
        ],
        className="numbers-table",
    )


def results_table(columns: Sequence[Column], units: Units, caption: str) -> Table:
    """Results as a page reads them.

    Args:
        columns: Of the table.
        units: What is read.
        caption: What it is.
    """
    heads = [column.headed(units) for column in columns]
    return Table(heads, rows_of(columns, units, number), caption)


def _cell(kind: Any, text: str | float, **more: Any) -> Any:
    """A cell, with its number beside its text for sorting and files."""
    if isinstance(text, Written) and math.isfinite(text.value):
        more |= attributes(data_value=f"{text.value:.6g}")
    return kind(text, **more)


def _heading(text: str) -> Any:
    sort, key = html.Button(text, type="button", className="sort"), term_of(text)
    return html.Th([sort, question(key)] if key else sort, scope="col")
