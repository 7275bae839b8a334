"""What the server answers to, how much it takes in, and what a browser may do with its pages."""

from __future__ import annotations

import base64
import hashlib
import ipaddress
import re
import socket
import time
from collections.abc import Callable
from typing import Any, Never
from urllib.parse import urlsplit

from dash import Dash
from dash.exceptions import DependencyException
from flask import Flask, Response, abort, has_request_context, request
from waitress import create_server
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError

from curves.plaintext import showable
from dashboard.server.well_formed import is_of_a_page, is_shallow

MOST_REQUEST_BYTES = 64_000_000
"""A file of some 45 MB as the browser sends it; the readers behind it have narrower bounds."""
SERVER_BOUNDS = {
    "max_request_body_size": MOST_REQUEST_BYTES,
    "channel_timeout": 60,
    "channel_request_lookahead": 1,
}
"""For waitress: what is larger is turned away unread, a sender that falls silent is let go; while a
request is worked on, its connection is listened to, so that it is seen to close."""
MOST_LOGGED = 200
MOST_OPEN = 80
"""Connections to one address, of which a browser keeps six: for a new one the idlest is closed.
Waitress takes no more than a hundred in, all told."""
MOST_SENDING_S = 300.0
"""Of one request: time for the largest at 1.7 Mbit/s."""

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}
NO_REQUEST = "No page of rimforce asks like this: load the page again."
UPDATE = "/_dash-update-component"
STRANGER = "This page answers to the address that rimforce printed, and to no other name."


class WaryParser(HTTPRequestParser):  # type: ignore[misc]  # Waitress ships no types.
    """Reads the head of a request; an address that is none is a wrong request, and no fault."""

    def parse_header(self, header_plus: bytes) -> None:
        """Read it.

        Raises:
            ParsingError: if it cannot be read.
        """
        try:
            super().parse_header(header_plus)
        except ValueError as error:
            raise ParsingError(str(error)) from None


class PromptChannel(HTTPChannel):  # type: ignore[misc]  # Waitress ships no types.
    """Lets go of who takes too long to send one request, and of who is idle where others wait."""

    will_close: bool
    parser_class = WaryParser
    _began = 0.0

    def __init__(self, server: Any, *of_connection: Any, **to_be_watched: Any) -> None:
        super().__init__(server, *of_connection, **to_be_watched)
        channels = [one for one in self._map.values() if isinstance(one, HTTPChannel)]
        open_now = [one for one in channels if not one.will_close]
        idle = [one for one in open_now if not one.requests and not one.total_outbufs_len]
        if len(open_now) > MOST_OPEN and idle:
            min(idle, key=lambda one: one.last_activity).will_close = True

    def received(self, data: bytes) -> bool:
        """Take in some of a request; what comes too late is left, and the connection closed."""
        now = time.monotonic()
        if self.request is None:
            self._began = now
        self.will_close = self.will_close or now - self._began > MOST_SENDING_S
        return bool(super().received(data))


def bounded_server(app: Flask, host: str, port: int, threads: int) -> Any:
    """A server for an app, whose requests are bounded in size and in time.

    Args:
        app: What it serves.
        host: Address or name to listen on.
        port: Port to listen on, 0 for any.
        threads: Requests worked on at once.

    Raises:
        OSError: if the port cannot be had.
    """
    listening: dict[int, Any] = {}
    server = create_server(app, listening, host=host, port=port, threads=threads, **SERVER_BOUNDS)
    # A name may stand for several addresses, each with a listener of its own.
    for listener in listening.values():
        listener.channel_class = PromptChannel
    return server


def protect(app: Dash, host: str) -> None:
    """Have every request and response of an app checked; called when all else is wired.

    Args:
        app: The app.
        host: Address or name it is served on.
    """
    server: Flask = app.server
    policy = _policy(app)
    server.config["MAX_CONTENT_LENGTH"] = MOST_REQUEST_BYTES

    @server.before_request
    def known_callers_only() -> None:
        asked = request.headers.get("Host", "")
        if not is_own(asked, host):
            abort(Response(STRANGER, 403, content_type="text/plain"))
        origin = request.headers.get("Origin")
        if origin is not None and urlsplit(origin).netloc != asked:
            abort(Response(STRANGER, 403, content_type="text/plain"))

    @server.before_request
    def well_formed_only() -> None:
        if request.method != "POST":
            return
        try:
            told = request.get_json()
        except RecursionError:
            refuse_request()
        asks = request.path != UPDATE or is_of_a_page(told, app.callback_map)
        if not (asks and is_shallow(told)):
            refuse_request()

    server.register_error_handler(DependencyException, lambda _: Response(status=404))

    @server.after_request
    def harden(response: Response) -> Response:
        if response.status_code >= 400 and response.status_code != 500:
            asked = " ".join(showable(f"{request.method} {request.path}")[:MOST_LOGGED].split())
            server.logger.warning("turned away, %d: %s", response.status_code, asked)
        response.headers.update({**HEADERS, "Content-Security-Policy": policy})
        return response


def asker_gone() -> Callable[[], bool]:
    """Whether the browser that sent the request under way has closed its connection meanwhile."""
    gone = request.environ.get("waitress.client_disconnected") if has_request_context() else None
    return gone or (lambda: False)


def refuse_request() -> Never:
    """End a request that no page sends."""
    abort(Response(NO_REQUEST, 400, content_type="text/plain"))


def is_own(asked: str, host: str) -> bool:
    """Whether a Host header names this server.

    A page elsewhere can have its own name point here, but not an address: so names other than
    this machine's are strangers, and addresses are not where others are let in at all.

    Args:
        asked: The header.
        host: Address or name the server was told to listen on.
    """
    try:
        name = (urlsplit(f"//{asked}").hostname or "").rstrip(".")
        # What is no port at all shows only when asked for.
        urlsplit(f"//{asked}").port  # noqa: B018
    except ValueError:
        return False
    if is_loopback(name) or (name and name == host.lower()):
        return True
    if is_loopback(host):
        return False
    machine = socket.gethostname().lower()
    return _address(name) is not None or name in (machine, f"{machine}.local")


def is_loopback(host: str) -> bool:
    """Whether a host is this machine as seen from itself alone."""
    address = _address(host)
    return host == "localhost" or (address is not None and address.is_loopback)


def _address(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        return None


def _policy(app: Dash) -> str:
    """Scripts from here alone; of those within the page, the ones that the app itself wrote."""
    own = [
        f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'"
        for script in re.findall(r"<script>(.*?)</script>", app.index_string, re.DOTALL)
    ]
    rules = {
        "default-src": "'none'",
        "script-src": " ".join(["'self'", *own, *app.csp_hashes()]),
        # Plots and components style what they draw where they draw it.
        "style-src": "'self' 'unsafe-inline'",
        "img-src": "'self' data: blob:",
        "font-src": "'self' data:",
        "connect-src": "'self'",
        "base-uri": "'none'",
        "form-action": "'none'",
        "frame-ancestors": "'none'",
    }
    return "; ".join(f"{what} {where}" for what, where in rules.items())
