"""Memory that was damaged in the browser: the page comes up with defaults, and keeps the rest."""

import json

import pytest

from curves import load_job
from dashboard.app import create_app
from dashboard.shell.registry import pages
from dashboard.state.session import MOST_TEXT, Session, View, read_session
from tests.asking import OWN, inside

DEEP = json.loads('{"x":' * 60 + "1" + "}" * 60)
NOTHING = [None, "text", [], [1], 7, 10**40, True, DEEP, {}, {"a": None}, {"range": []}]


@pytest.mark.parametrize("damaged", NOTHING)
def test_extra_that_is_none_is_left_at_its_default(damaged):
    kept = {"units": ["mph"], "pinned_kmh": [30.0], "extra": damaged}
    view = View.parse(kept)
    assert view.units.name("km/h") == "mph"
    assert view.pinned_kmh == (30.0,)
    assert all(isinstance(page, dict) for page in view.extra.values())
    json.dumps(view.data(), allow_nan=False)


@pytest.mark.parametrize("damaged", [None, "text", [], 7, {"units": None}, {"width": 10**400}])
def test_a_view_that_is_none_is_the_usual_one(damaged):
    assert View.parse(damaged) == View()


@pytest.mark.parametrize("pins", [None, "text", 25.0, {"0": 25}])
def test_pins_that_are_no_list_are_the_usual_ones(pins):
    assert View.parse({"pinned_kmh": pins, "grades": pins}) == View()
    assert View.parse({"pinned_kmh": []}).pinned_kmh == ()


@pytest.mark.parametrize("value", [10**40, 1e300, float("inf"), float("nan"), "x" * 30_000])
def test_values_that_no_page_keeps_are_left_out_alone(value):
    view = View.parse({"extra": {"range": {"kmh": value, "full": 0.9, "ride": [[20, value, 5]]}}})
    assert view.extra == {"range": {"full": 0.9}}


SLOTS = [None, "012345", [float("inf")] * 6, [10**40] * 6, [-1, 0, 1, 2, 3, 4], [{}], 5]


@pytest.mark.parametrize("slots", SLOTS)
@pytest.mark.parametrize("what", ["slots", "hidden"])
def test_damaged_slots_lose_no_job(what, slots):
    job = load_job().replace("title", "My own bike")
    kept = {**Session.of(job).data(), what: slots, "text": 10**40}
    session = read_session(kept)
    assert session.job.title == "My own bike"
    assert session.slots == tuple(range(len(job.setup)))
    assert session.hidden == frozenset()
    assert session.text == ""


def test_a_text_that_is_too_long_is_not_kept():
    assert read_session({**Session.of(load_job()).data(), "text": "#" * (MOST_TEXT + 1)}).text == ""


@pytest.mark.parametrize("damaged", [None, "text", [], 7, {"tree": None}, {"tree": DEEP}])
def test_a_session_that_is_none_is_the_demonstration(damaged):
    assert read_session(damaged).job == load_job()


@pytest.fixture(scope="module")
def app():
    return create_app()


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.path)
def test_every_page_comes_up(app, page):
    session = {**Session.of(load_job()).data(), "slots": [float("inf")]}
    view = {"units": None, "pinned_kmh": "x", "extra": None, "width": -(10**40)}
    told = {"url": page.path, "page": "", "session": session, "view": view}
    assert inside(app).ask("page-body", "url.pathname", **told)["page.data"] == page.path


WRONG = {
    "n_clicks": ("share-csv", "x"),
    "contents": ("open", 7),
    "data": ("acted", "duplicate"),
    "pathname": ("url", ["/"]),
}


@pytest.mark.parametrize("prop", WRONG)
def test_a_value_of_another_kind_is_turned_away(app, prop):
    name, value = WRONG[prop]
    client = app.server.test_client()
    known = json.loads(client.get("/_dash-dependencies", headers=OWN).text)
    (wired,) = [d for d in known if [i["id"] for i in d["inputs"]] == [name]]
    body = {
        "output": wired["output"],
        "outputs": [
            {"id": part.rpartition(".")[0], "property": part.rpartition(".")[2].partition("@")[0]}
            for part in wired["output"].strip(".").split("...")
        ],
        "inputs": [{"id": name, "property": prop, "value": value}],
        "state": [{**wire, "value": None} for wire in wired["state"]],
        "changedPropIds": [f"{name}.{prop}"],
    }
    if not wired["output"].startswith(".."):
        body["outputs"] = body["outputs"][0]
    said = client.post("/_dash-update-component", json=body, headers=OWN)
    assert said.status_code == 400
