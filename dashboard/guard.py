"""What the server answers to, how much it takes in, and what a browser may do with its pages."""

from __future__ import annotations

import base64
import hashlib
import ipaddress
import re
import socket
import time
from typing import Any
from urllib.parse import urlsplit

from dash import Dash
from flask import Flask, Response, abort, request
from waitress import create_server
from waitress.channel import HTTPChannel

MOST_REQUEST_BYTES = 64_000_000
"""A file of some 45 MB as the browser sends it; the readers behind it have narrower bounds."""
SERVER_BOUNDS = {
    "max_request_body_size": MOST_REQUEST_BYTES,
    "channel_timeout": 60,
}
"""For waitress: what is larger is turned away unread, a sender that falls silent is let go."""
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
STRANGER = "This page answers to the address that rimforce printed, and to no other name."


class PromptChannel(HTTPChannel):
    """Lets go of who takes too long to send one request, however steadily it trickles in."""

    _began = 0.0

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
    server, policy = app.server, _policy(app)
    server.config["MAX_CONTENT_LENGTH"] = MOST_REQUEST_BYTES

    @server.before_request
    def known_callers_only() -> None:
        asked = request.headers.get("Host", "")
        if not is_own(asked, host):
            abort(Response(STRANGER, 403, content_type="text/plain"))
        origin = request.headers.get("Origin")
        if origin is not None and urlsplit(origin).netloc != asked:
            abort(Response(STRANGER, 403, content_type="text/plain"))

    @server.after_request
    def harden(response: Response) -> Response:
        response.headers.update({**HEADERS, "Content-Security-Policy": policy})
        return response


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
