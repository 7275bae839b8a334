"""The tables of a page in one file: what stands in a cell, and what a browser may send."""

import copy
import csv
import io
import json
import math
import pickle

from dash import html

from curves import load_job
from curves.present.table import Table
from curves.units import AS_WRITTEN
from dashboard.answers.setups import compare
from dashboard.base.words import NONE, number, signed
from dashboard.pages.which_pack.tables import over_speed
from dashboard.shell.carried import as_csv, as_json, sent, setups
from dashboard.state.session import Session
from dashboard.widgets.marks import soft
from dashboard.widgets.setups_table import Column


def test_a_result_its_difference_and_its_words_have_a_column_each():
    session = Session.of(load_job())
    compared = compare(session.toggle(session.slots[1]))

    def cell(r, against):
        if r.slot == session.slots[2]:
            return soft("never")
        parts = [
            html.Span([number(45), html.Span(" / 40", className="beside")], className="figure")
        ]
        if against is not None:
            parts.append(html.Span(signed(-1234.5, 2), className="change"))
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
    read = list(csv.reader(io.StringIO(as_csv([made, Table(["x"], [["=1+1"]])]))))
    assert read[0] == ["Setups compared"]
    assert read[3][5] == "-1234.5"
    assert read[-3:] == [[], ["x"], ["'=1+1"]]


def _opening(_r, _against):
    return html.Details([html.Summary("yes"), html.Ul(html.Li("a reason"))])


def test_numbers_are_numbers_for_other_programs():
    rows = [[number(1234.5, 1), number(-3, unit="%")], [signed(2), "12 cells"]]
    tables = [Table(["a", "b"], rows, "t")]
    found = json.loads(as_json("How far?", "a job", tables))
    assert found["tables"][0]["rows"] == [[1234.5, -3.0], [2.0, "12 cells"]]


def test_a_text_that_looks_like_a_number_is_none():
    """Seen: a setup called 1,300 was the number 1300 to other programs."""
    session = Session.of(load_job()).edit_setup(0, "name", "1,300")
    compared = compare(session)
    made = [setups(compared, []), Table(*over_speed(compared.shown, AS_WRITTEN))]
    for table in json.loads(as_json("t", "j", made))["tables"]:
        assert table["rows"][0][0] == "1,300"
    assert {row[0] for row in csv.reader(io.StringIO(as_csv(made[:1])))} >= {"1,300", "13 cells"}


def test_a_number_has_the_digits_that_mean_something():
    rows = [[number(36.891234567, 1), number(13), number(math.nan), "54.6 / 48"]]
    made = [Table(["a", "b", "c", "d"], rows)]
    [found] = json.loads(as_json("t", "j", made))["tables"]
    assert found["rows"] == [[36.8912, 13, NONE, "54.6 / 48"]]
    assert as_csv(made).splitlines()[1] == f"36.8912,13,{NONE},54.6 / 48"


def test_a_number_stays_one_where_it_is_copied():
    for again in (copy.deepcopy, lambda x: pickle.loads(pickle.dumps(x))):
        assert again(number(1234.5, 1)).value == 1234.5


def test_what_a_browser_sends_is_read_or_left_out():
    good = {"title": "t", "rows": [["a"], ["1"], [""], [2.5]]}
    assert sent([good]) == [Table(["a"], [["1"], [2.5]], "t")]
    for wrong in (None, "x", [None], [{"rows": "x"}], [{"rows": []}], [{"rows": [1]}], [{}]):
        assert sent(wrong) == []
