"""What the browser asks while somebody types: the plots moved, whatever stands in the field."""

import time

import pytest

from curves import load_job
from dashboard.answers import setups as results
from dashboard.answers.setups import compare
from dashboard.app import create_app
from dashboard.pages.which_pack import page as which_pack
from dashboard.state.part_edits import recounted
from dashboard.state.session import Session, View

SESSION = Session.of(load_job())
SERIES = {"type": "field", "part": "pack", "name": "cells-13", "key": "series"}


@pytest.fixture(scope="module")
def client():
    return create_app().server.test_client()


def asked(**other):
    told = {"session": SESSION.data(), "view": View().data(), "where": SERIES, "value": "14",
            "next": "15", "last": 0.0}  # fmt: skip
    return {**told, **other}


def with_cells(series):
    return recounted(SESSION, "cells-13", "series", series)


def moved(series, last=0.0):
    return which_pack.moved(compare(with_cells(series)),
                            View(), last)  # fmt: skip


def test_the_plots_move_as_if_the_job_had_it(client):
    said = client.post("/typed", json=asked()).get_json()
    session = Session.parse(said.pop("session"))
    assert session == with_cells(14)
    assert said.pop("error") is None
    assert said == moved(14)
    assert said["layout"]["meta"]["made"] == moved(13)["layout"]["meta"]["made"]


@pytest.mark.parametrize("value", ["", "0", "-3", "1e99", "cells", "<b>"])
def test_what_is_not_allowed_is_told_and_leaves_all_as_it_was(client, value):
    said = client.post("/typed", json=asked(value=value)).get_json()
    assert said.pop("session") is None
    assert said.pop("error")
    assert said == moved(13)


def test_after_an_empty_field_there_is_no_next_step(client):
    # The browser's number for it is none, and comes as null.
    assert client.post("/typed", json=asked(next=None)).status_code == 200


def test_another_page_is_told_of_the_job_alone(client):
    said = client.post("/typed", json=asked(last=None)).get_json()
    assert set(said) == {"session", "error"}


def test_a_row_is_typed_in_as_well(client):
    where = {"type": "row", "slot": SESSION.slots[1], "field": "state_of_charge"}
    said = client.post("/typed", json=asked(where=where, value="50")).get_json()
    assert said["traces"] != moved(13)["traces"]


def test_the_axis_stays_while_it_will_do_and_goes_on_in_steps():
    ends = {last: moved(13, last)["layout"]["xaxis"]["range"][1] for last in (0.0, 100.0, 1e9)}
    assert ends[100.0] == 100.0
    assert ends[1e9] == which_pack.FARTHEST * ends[0.0]
    assert moved(13, ends[0.0] - 5.0)["layout"]["xaxis"]["range"][1] % which_pack.ROOM == 0


@pytest.mark.parametrize(
    "told", [None, [], "x", {}, asked(where={"type": "part"}), asked(where=3), asked(last="far"),
             {k: v for k, v in asked().items() if k != "view"}]
)  # fmt: skip
def test_a_request_that_no_page_sends_is_refused(client, told):
    assert client.post("/typed", json=told).status_code in (400, 415)


def test_the_next_step_is_worked_out_ahead(client, monkeypatch):
    drawn, real = [], results.draw
    monkeypatch.setattr(results, "draw", lambda rigs: drawn.extend(rigs) or real(rigs))
    results.forget()
    client.post("/typed", json=asked(value="17", next="18"))
    deadline = time.monotonic() + 30
    while 18 not in [rig.pack.series for rig in drawn]:
        assert time.monotonic() < deadline
        time.sleep(0.02)
