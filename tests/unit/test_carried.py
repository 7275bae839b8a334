"""The tables of a page in one file: what stands in a cell, and what a browser may send."""

import csv
import io
import json

from dash import html

from curves import load_job
from dashboard.answers.setups import compare
from dashboard.pages.which_pack.tables import plain_number
from dashboard.shell.carried import Table, as_csv, as_json, sent, setups
from dashboard.state.session import Session
from dashboard.widgets.marks import soft
from dashboard.widgets.setups_table import Column


def test_a_result_its_difference_and_its_words_have_a_column_each():
    session = Session.of(load_job())
    compared = compare(session.toggle(session.slots[1]))

    def cell(r, against):
        if r.slot == session.slots[2]:
            return soft("never")
        parts = [html.Span(["45", html.Span(" / 40", className="beside")], className="figure")]
        if against is not None:
            parts.append(html.Span("−1,234.50", className="change"))
        return [*parts, soft("at 9 A"), soft("and more")]

    made = setups(compared, [Column("a", "Top", "", cell), Column("b", "Words", "", _opening)])
    assert list(made.columns) == [
        "Setup", "Shown", "Pack", "Tune", "Top", "Top, difference from as delivered",
        "Top, more", "Words",
    ]  # fmt: skip
    words = "at 9 A; and more"
    assert made.rows[0] == ["as delivered", "yes", "cells-10", "town", "45 / 40", "", words, "yes"]
    assert made.rows[1][1] == "hidden"
    assert made.rows[2][4:7] == ["never", "", ""]
    read = list(csv.reader(io.StringIO(as_csv([made, Table("", ["x"], [["=1+1"]])]))))
    assert read[0] == ["Setups compared"]
    assert read[3][5] == "-1234.50"
    assert read[-3:] == [[], ["x"], ["'=1+1"]]


def _opening(_r, _against):
    return html.Details([html.Summary("yes"), html.Ul(html.Li("a reason"))])


def test_numbers_are_numbers_for_other_programs():
    tables = [Table("t", ["a", "b"], [["1,234.5", "−3 %"], ["+2", "12 cells"]])]
    found = json.loads(as_json("How far?", "a job", tables))
    assert found["tables"][0]["rows"] == [[1234.5, -3.0], [2.0, "12 cells"]]


def test_what_is_no_number_is_none():
    assert plain_number("54.6 / 48") is None
    assert plain_number("") is None
    assert plain_number("nan") is None
    assert plain_number("1e-05") == "1e-05"


def test_what_a_browser_sends_is_read_or_left_out():
    good = {"title": "t", "rows": [["a"], ["1"], [""]]}
    assert sent([good]) == [Table("t", ["a"], [["1"]])]
    for wrong in (None, "x", [None], [{"rows": "x"}], [{"rows": []}], [{"rows": [1]}], [{}]):
        assert sent(wrong) == []
