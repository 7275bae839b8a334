"""What the server answers to, how much it takes in, and what it lets a browser do."""

import base64
import hashlib
import re
import socket

import pytest

from dashboard.app import create_app, run
from dashboard.guard import MOST_REQUEST_BYTES, is_own


@pytest.fixture(scope="module")
def client():
    return create_app().server.test_client()


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


def test_the_server_itself_turns_away_what_is_too_large(monkeypatch):
    given = {}

    def create_server(_app, **settings):
        given.update(settings)
        raise OSError("taken")

    monkeypatch.setattr("waitress.create_server", create_server)
    with pytest.raises(OSError, match="taken"):
        run(host="127.0.0.1", port=1)
    assert given["max_request_body_size"] == MOST_REQUEST_BYTES
    assert given["channel_timeout"] <= 60
