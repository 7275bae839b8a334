"""What the server answers to, how much it takes in, and what it lets a browser do."""

import base64
import hashlib
import json
import re
import socket
import time
from contextlib import ExitStack

import pytest
from flask import Flask

from curves import load_job
from curves.report.look import FONT, FONTS
from dashboard.app import create_app
from dashboard.server import guard
from dashboard.server.guard import MOST_REQUEST_BYTES, is_own
from dashboard.server.sent import is_of_its_kind
from dashboard.state.session import Session, View
from tests.serving import serving


@pytest.fixture(scope="module")
def client():
    app = create_app()
    app.server.dash = app
    return app.server.test_client()


def test_the_pages_and_saved_pictures_find_their_type(client):
    """The report's own copy, under the address that pages and scripts ask for."""
    with client.get("/assets/share.js", headers={"Host": "localhost"}) as answer:
        scripts = answer.text
    page = client.get("/", headers={"Host": "localhost"}).text
    (address,) = set(re.findall(r'"(/assets/fonts/[^"]+)"', scripts + page))
    with client.get(address, headers={"Host": "localhost"}) as font:
        assert font.content_type == "font/woff2"
        assert font.data == (FONTS / FONT).read_bytes()


OWN = ["127.0.0.1", "127.0.0.1:8317", "localhost:8317", "LOCALHOST", "[::1]:8317", "127.8.9.1"]
STRANGE = [
    "",
    "rebound.example:8317",
    "localhost.rebound.example",
    "127.0.0.1.rebound.example",
    "192.168.1.20:8317",
    "*",
    "127.0.0.1:port",
    "[::1",
    "user@rebound.example",
    "0.0.0.0:8317",
]


@pytest.mark.parametrize("asked", OWN)
def test_it_answers_to_this_machine(client, asked):
    assert client.get("/", headers={"Host": asked}).status_code == 200


@pytest.mark.parametrize("asked", STRANGE)
def test_it_answers_to_no_other_name(client, asked):
    for path in ("/", "/_dash-layout", "/_dash-dependencies", "/assets/style.css"):
        assert client.get(path, headers={"Host": asked}).status_code == 403, path


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.20"])
def test_told_to_let_others_in_it_answers_to_addresses_and_its_own_name(host):
    machine = socket.gethostname()
    for asked in (*OWN, "192.168.1.20:8317", "[fe80::1]:8317", machine, f"{machine}.local:8317"):
        assert is_own(asked, host)
    for asked in ("rebound.example", f"{machine}.rebound.example", "", "192.168.1.20.example"):
        assert not is_own(asked, host)


def test_a_name_it_is_told_is_its_own():
    assert is_own("bench.workshop.example:8317", "bench.workshop.example")
    assert not is_own("other.workshop.example", "bench.workshop.example")


def test_a_page_from_elsewhere_cannot_call_it(client):
    def asked(origin):
        headers = {"Host": "127.0.0.1:8317", "Origin": origin}
        return client.post("/_dash-update-component", json={}, headers=headers).status_code

    for origin in ("http://rebound.example", "null", "http://127.0.0.1:9999"):
        assert asked(origin) == 403
    assert asked("http://127.0.0.1:8317") != 403


@pytest.mark.parametrize("path", ["/", "/_dash-layout", "/assets/client.js", "/nowhere"])
def test_every_answer_says_what_a_browser_may_do_with_it(client, path):
    with client.get(path, headers={"Host": "localhost"}) as answer:
        said = answer.headers
    assert said["X-Content-Type-Options"] == "nosniff"
    assert said["X-Frame-Options"] == "DENY"
    assert said["Referrer-Policy"] == "same-origin"
    assert said["Cross-Origin-Resource-Policy"] == "same-origin"
    rules = dict(rule.split(" ", 1) for rule in said["Content-Security-Policy"].split("; "))
    assert rules["default-src"] == "'none'"
    assert rules["connect-src"] == rules["script-src"].split()[0] == "'self'"
    assert rules["frame-ancestors"] == rules["base-uri"] == rules["form-action"] == "'none'"
    assert "unsafe" not in rules["script-src"]
    assert "*" not in said["Content-Security-Policy"]


def test_each_script_within_the_page_is_one_that_the_policy_knows(client):
    said = client.get("/", headers={"Host": "localhost"})
    policy = said.headers["Content-Security-Policy"]
    inside = re.findall(r"<script(?: id=\"_dash-renderer\"[^>]*)?>(.*?)</script>", said.text, re.S)
    inside = [script for script in inside if script]
    assert len(inside) >= 2
    for script in inside:
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in policy


UPDATE = "/_dash-update-component"
DEEP = [b"[" * 10**6, b'{"a":' * 10**5, b"[" * 200_000 + b"]" * 200_000, b"[" * 300 + b"]" * 300]
NO_JSON = [b"", b"x", b"[", b"\xff\xfe", b'{"a"']
NO_ASKING = [
    b"[]", b"{}", b"null", b"1", b'"a"', b'{"output": 1}', b'{"output": "nope"}',
    b'{"output": {"a": 1}, "inputs": 3}', b'{"output": "\\ud800", "inputs": []}',
]  # fmt: skip


@pytest.mark.parametrize("body", [*DEEP, *NO_JSON, *NO_ASKING], ids=lambda body: ascii(body[:30]))
@pytest.mark.parametrize("path", [UPDATE, "/typed"])
def test_what_no_page_sends_is_turned_away_in_one_line(client, path, body, caplog):
    said = client.post(
        path, data=body, content_type="application/json", headers={"Host": "localhost"}
    )
    assert said.status_code == 400
    (told,) = caplog.records
    assert told.getMessage() == f"turned away, 400: POST {path}"
    assert told.exc_info is None


def asked(client):
    """What a page sends for each of the app's callbacks, values left out."""
    for one in client.application.dash.callback_map.items():
        key, wired = one
        if "callback" in wired:
            outputs = [{"id": "x", "property": "y"}] * (key.count("...") + 1)
            yield {
                "output": key,
                "outputs": outputs if "..." in key else outputs[0],
                "changedPropIds": [],
                **{
                    kind: [
                        [] if '["ALL"]' in x["id"] else {"id": x["id"], "property": x["property"]}
                        for x in wired[kind]
                        if '["MATCH"]' not in x["id"]
                    ]
                    for kind in ("inputs", "state")
                },
            }


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
@pytest.mark.parametrize(("key", "was"), [("value", '"cells-13"'), ("next", '"15"'), ("slot", 0)])
def test_a_number_that_is_none_is_not_typed(client, key, was, number, caplog):
    where = {"type": "row", "slot": 0, "field": "pack"}
    session, view = Session.of(load_job()).data(), View().data()
    told = {"where": where, "next": "15", "last": None, "session": session, "view": view}
    text = json.dumps(told | {"value": "cells-13"}).replace(f'"{key}": {was}', f'"{key}": {number}')
    headers = {"Host": "localhost", "Content-Type": "application/json"}
    said = client.post("/typed", data=text, headers=headers)
    assert said.status_code == 400
    assert len(caplog.records) == 1
    assert not caplog.records[0].exc_info


@pytest.mark.parametrize(
    ("pins", "is_right"),
    [(["12"], True), (None, True), (-2.5, False), ("12", False), ([3], False), ({"a": 1}, False)],
)
def test_pins_are_a_list_of_texts(pins, is_right):
    name = {"kind": "speeds", "type": "pin", "unit": "mph"}
    wired = {"id": '{"kind":["ALL"],"type":"pin","unit":["ALL"]}', "property": "value"}
    assert is_of_its_kind({"id": name, "property": "value", "value": pins}, wired) is is_right


def test_a_callback_asked_otherwise_than_a_page_does_is_turned_away(client, caplog):
    for sound in list(asked(client))[::10]:
        for name, wrong in (
            ("inputs", 3),
            ("inputs", [*sound["inputs"], {"id": "x", "property": "y"}]),
            ("inputs", [{"id": "x", "property": "y"} for _ in sound["inputs"]]),
            ("inputs", [None for _ in sound["inputs"]]),
            ("state", {"a": 1}),
            ("outputs", [[1]]),
            ("changedPropIds", "x.y"),
            ("changedPropIds", [1]),
            ("changedPropIds", ['{"type":.value']),
        ):
            said = client.post(UPDATE, json={**sound, name: wrong}, headers={"Host": "localhost"})
            assert said.status_code == 400, (sound["output"], name, wrong)
    assert not [told for told in caplog.records if told.exc_info]


@pytest.mark.parametrize(
    "path",
    ["/_dash-component-suites/nope/x.js", "/_dash-component-suites/dash/nope.js", "/assets/x.js"],
)
def test_a_script_that_is_none_is_not_found(client, path, caplog):
    with client.get(path, headers={"Host": "localhost"}) as said:
        assert said.status_code == 404
    assert [told.exc_info for told in caplog.records] == [None]


def test_too_large_a_request_is_refused_before_it_is_read(client):
    class Endless:
        def read(self, _size=-1):
            raise AssertionError("it was read")

    said = client.post(
        "/_dash-update-component",
        headers={"Host": "localhost"},
        content_type="application/json",
        environ_overrides={
            "CONTENT_LENGTH": str(MOST_REQUEST_BYTES + 1),
            "wsgi.input": Endless(),
        },
    )
    assert said.status_code == 413


@pytest.fixture
def served():
    """Where a small server listens that is bounded as the app's is."""
    app = Flask("small")
    app.add_url_rule("/", view_func=lambda: "hello", methods=["GET", "POST"])
    with serving(app) as server:
        yield server


def send(server, head, *, drops=0):
    """A POST of so many drops behind its head, and what is answered: nothing where it is cut."""
    with socket.create_connection(("127.0.0.1", server.effective_port), timeout=10) as line:
        line.sendall(b"POST / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n" + head)
        try:
            for _ in range(drops):
                line.sendall(b"x")
                time.sleep(0.05)
            return line.recv(100)
        except ConnectionError:
            return b""


def test_the_server_itself_turns_away_what_is_too_large(served):
    said = send(served, b"Content-Length: %d\r\n\r\n" % (MOST_REQUEST_BYTES + 1))
    assert said.startswith(b"HTTP/1.1 413 ")


def test_many_idle_connections_lock_nobody_out(served):
    place = ("127.0.0.1", served.effective_port)
    with ExitStack() as lines:
        for _ in range(130):
            lines.enter_context(socket.create_connection(place, timeout=10))
        assert send(served, b"Content-Length: 0\r\n\r\n").startswith(b"HTTP/1.1 200 ")


RAW = [
    b"x\r\n\r\n",
    b"\x16\x03\x01\x02\x00\x01\x00\r\n\r\n",
    b"GET / HTTP/1.1\r\nContent-Length: x\r\n\r\n",
    b"GET / HTTP/1.1\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\n",
    b"GET / HTTP/1.1\r\nTransfer-Encoding: odd\r\n\r\n",
    b"POST / HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
    b"GET / HTTP/1.1\r\nno colon\r\n\r\n",
    b"GET http://[::1 HTTP/1.1\r\n\r\n",
]


@pytest.mark.parametrize("raw", RAW, ids=ascii)
def test_what_is_no_request_is_turned_away_without_a_traceback(served, raw, caplog):
    with socket.create_connection(("127.0.0.1", served.effective_port), timeout=10) as line:
        line.sendall(raw)
        assert re.match(rb"HTTP/1\.[01] (4\d\d|501) ", line.recv(100))
    assert not [said for said in caplog.records if said.exc_info]


def test_who_sends_drop_by_drop_is_let_go_in_time(served, monkeypatch):
    head = b"Content-Length: 20\r\n\r\n"
    assert send(served, head, drops=20).startswith(b"HTTP/1.1 200 ")
    monkeypatch.setattr(guard, "MOST_SENDING_S", 0.3)
    assert send(served, head, drops=20) == b""
    assert guard.SERVER_BOUNDS["channel_timeout"] <= 60  # s, for who falls silent
