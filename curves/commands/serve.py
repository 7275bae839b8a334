"""``serve``: the dashboard in the browser."""

from __future__ import annotations

import socket
from typing import Annotated

import typer

from curves.commands.options import JobFile
from curves.commands.output import refuse, say, warn
from curves.parts.job import job_text, load_job

LOOPBACK = "127.0.0.1"
USUAL_PORT = 8317
OPEN_TO_ALL = (
    "Warning: {host} can be reached from other machines. Anyone there can use this page and read "
    "the job; there is no password. Leave --host out to keep it to this machine."
)


def serve(
    job: JobFile = None,
    port: Annotated[
        int | None,
        typer.Option(min=0, max=65535, help=f"Port; {USUAL_PORT} or a free one if left out."),
    ] = None,
    host: Annotated[
        str, typer.Option(help="Address to listen on; this machine alone unless told otherwise.")
    ] = LOOPBACK,
    open_browser: Annotated[bool, typer.Option("--open", help="Open the browser too.")] = False,
) -> None:
    """Show the job in the browser; Ctrl+C ends it."""
    opened = load_job(job)
    port = _free_port(host, port)
    from dashboard.app import run
    from dashboard.server.guard import is_loopback

    if not is_loopback(host):
        warn(OPEN_TO_ALL.format(host=host))
    # An address that stands for all of them is none that a browser can ask.
    shown = {"0.0.0.0": LOOPBACK, "::": "::1"}.get(host, host)
    shown = f"[{shown}]" if ":" in shown else shown
    run(
        opened,
        host=host,
        port=port,
        open_browser=open_browser,
        text=job_text(job),
        # Told once the page can be asked for, and not before.
        ready=lambda: say(f"http://{shown}:{port}/\n"),
    )


def _free_port(host: str, wanted: int | None) -> int:
    """The port wanted, or without a wish the usual one if it is free, or else any that is."""
    tried = (USUAL_PORT, 0) if wanted is None else (wanted,)
    for port in tried:
        try:
            family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
            with socket.socket(family, socket.SOCK_STREAM) as probe:
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
                probe.bind((host, port))
                return int(probe.getsockname()[1])
        except socket.gaierror as error:
            refuse("--host", host, f"is no address of this machine: {error.strerror}")
        except OSError as error:
            if port == tried[-1]:
                refuse("--port", str(port), f"cannot be used on {host}: {error.strerror}")
    raise AssertionError("the last port tried either works or is refused")
