"""The dashboard as an app, and the server that gives it to a browser."""

from __future__ import annotations

import logging
import threading
import webbrowser
from collections.abc import Callable
from urllib.parse import urlsplit

from dash import Dash
from flask import Response, has_request_context, request, send_from_directory

from curves import Job, load_job
from curves.report.look import FONT, FONTS
from dashboard.base import theme
from dashboard.server import guard
from dashboard.shell import editing, intake, naming, sharing, showing
from dashboard.shell import typing as at_once
from dashboard.shell.first_look import first_look
from dashboard.shell.registry import page_at, pages
from dashboard.shell.shell import shell
from dashboard.state.session import Session, View
from dashboard.widgets import listed

THREADS = 6
LOOPBACK = "127.0.0.1"
FIRST = "/regenerator.js"
FONT_ADDRESS = f"/assets/fonts/{FONT}"
UNUSED = ("/deps/polyfill@", "/dash_table/")

INDEX = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>{%title%}</title>
{%favicon%}
<style>@font-face{font-family:"Source Sans 3";font-weight:200 900;font-display:swap;
src:url("%FONT%") format("woff2")}
%VARIABLES%</style>
{%css%}
<script>(function(){var s=null;try{s=localStorage.getItem("mantine-color-scheme-value")}catch(e){}
s=s&&s!=="auto"?s:(matchMedia("(prefers-color-scheme: dark)").matches?"dark":"light");
document.documentElement.setAttribute("data-mantine-color-scheme",s);
try{var v=JSON.parse(localStorage.getItem("rimforce/view"));
if(location.hash||(v&&v.units.length)||Object.keys(localStorage).some(function(k){
return k.indexOf("rimforce/job-")===0}))document.documentElement.classList.add("own-job")}
catch(e){}
document.fonts.load('1em "Source Sans 3"').finally(function(){
document.documentElement.classList.add("lettered")})})();</script>
<link rel="preload" as="script" href="/_dash-component-suites/dash/dcc/async-graph.js">
<script>window.rimforceEarly=new Map(["_dash-layout","_dash-dependencies"].map(function(name){
return [name,fetch("/"+name,{credentials:"same-origin"})]}));</script>
</head>
<body>
{%app_entry%}
<footer hidden>{%config%}{%scripts%}{%renderer%}</footer>
</body>
</html>"""


class _App(Dash):
    """Dash without the scripts that these pages have no use for, and with a first look."""

    look: Callable[[str], str]
    """The HTML of what is read first, for the path of a page."""

    # Dash names each part, and hands them over by name.
    def interpolate_index(self, **parts: str) -> str:  # type: ignore[override]
        """The page around the app.

        Left out are tables of Dash's own and a bridge to browsers of ten years ago, which slows
        what it replaces in those of today; the one part of it that Dash itself asks for comes
        first.
        """
        scripts = parts["scripts"].splitlines()
        kept = [line for line in scripts if not any(name in line for name in UNUSED)]
        kept.sort(key=lambda line: FIRST not in line)
        entry = parts["app_entry"] + self.look(request.path)
        # Dash leaves this one of its methods without types.
        whole: Callable[..., str] = super().interpolate_index
        return whole(**{**parts, "scripts": "\n".join(kept), "app_entry": entry})


def create_app(job: Job | None = None, host: str = LOOPBACK, text: str = "") -> Dash:
    """The app on a job, the demonstration if none is given.

    Args:
        job: What the page opens on; what a browser changed in it before is kept there.
        host: Address or name it will be asked by.
        text: Of the file that the job was read from.
    """
    session = Session.of(load_job() if job is None else job, text)
    app = _App(
        "dashboard",
        title="rimforce",
        update_title="",
        serve_locally=True,
        suppress_callback_exceptions=True,
        meta_tags=[{"name": "viewport", "content": "width=device-width, initial-scale=1"}],
    )
    app.index_string = INDEX.replace("%VARIABLES%", theme.variables())
    app.index_string = app.index_string.replace("%FONT%", FONT_ADDRESS)
    app.look = lambda path: first_look(session, View(), page_at(path))
    app.layout = lambda: shell(session, View(), page_at(_asked_for()))
    app.server.get(FONT_ADDRESS)(_font)
    showing.register(app)
    editing.register(app)
    at_once.register(app)
    naming.register(app)
    sharing.register(app)
    intake.register(app)
    listed.register(app)
    for page in pages():
        page.register(app)
    guard.protect(app, host)
    return app


def _font() -> Response:
    """The type of the pages, which is the report's."""
    return send_from_directory(FONTS, FONT, mimetype="font/woff2")


def _asked_for() -> str:
    """Path of the page whose browser asks for its layout."""
    asked = request.referrer if has_request_context() else None
    return urlsplit(asked or "/").path


def run(
    job: Job | None = None,
    *,
    host: str = LOOPBACK,
    port: int = 8317,
    open_browser: bool = False,
    text: str = "",
    ready: Callable[[], None] = lambda: None,
) -> None:
    """Serve the dashboard until interrupted.

    Args:
        job: What it opens on; the demonstration if None.
        host: Address to listen on.
        port: Port to listen on.
        text: Of the file that the job was read from, for its comments.
        open_browser: Whether to show the page.
        ready: Called once the page can be asked for.

    Raises:
        OSError: if the port cannot be had.
    """
    # A short queue while a page loads is no news.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)

    app = create_app(job, host, text).server
    server = guard.bounded_server(app, host, port, THREADS)
    ready()
    if open_browser:
        shown = f"[{host}]" if ":" in host else host
        threading.Timer(0.1, webbrowser.open, [f"http://{shown}:{port}/"]).start()
    try:
        server.run()
    finally:
        server.close()
