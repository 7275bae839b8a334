"""A dashboard to look at, and a page that fails on any error and any request that leaves here.

The pages' policy allows no ``eval``, which playwright's ``wait_for_function`` needs: wait with
``expect`` instead.
"""

import threading
import time
from collections.abc import Callable
from urllib.parse import urljoin, urlsplit

import pytest
from playwright.sync_api import expect, sync_playwright

from curves import load_job
from dashboard.app import create_app
from dashboard.server.guard import bounded_server
from tests.browser_path import find_browser

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
NO_TOUR = "if (window === top) localStorage.setItem('rimforce/toured', 'true')"
"""Run first in a page. A page within it, as the report's preview, has no storage."""
PATIENCE_MS = 120_000
"""How long anything may take on a slow and busy machine; nothing waits this long when it works."""
expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="session")
def browser():
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=find_browser(), args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def serve():
    """Serve a job; gives its address."""
    servers = []

    def start(job=None) -> str:
        app = create_app(job or load_job())
        server = bounded_server(app.server, "127.0.0.1", 0, threads=6)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        servers.append((server, thread))
        return f"http://127.0.0.1:{server.effective_port}/"

    yield start
    for server, thread in servers:
        server.close()
        thread.join(timeout=5)


@pytest.fixture(scope="session")
def demo(serve) -> str:
    return serve()


@pytest.fixture
def open_page(browser) -> Callable:
    """Open an address or a page of it in a fresh browser; its faults are counted in the end."""
    contexts, faults = [], []

    def start(
        address: str,
        path: str = "/",
        *,
        width: int = 1280,
        height: int = 900,
        scheme: str = "light",
        first_visit=False,
    ):
        context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme
        )
        context.set_default_timeout(PATIENCE_MS)
        if not first_visit:
            context.add_init_script(NO_TOUR)
        page = context.new_page()
        page.on("console", lambda m: faults.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("request", lambda r: None if _stays(r.url) else faults.append(f"left: {r.url}"))
        contexts.append(context)
        page.goto(urljoin(address, path) if path != "/" else address)
        page.wait_for_selector(".js-plotly-plot .barlayer .point" if path == "/" else "h1")
        page.evaluate("document.fonts.ready.then(() => true)")
        return page

    yield start
    for context in contexts:
        context.close()
    assert faults == []


def until(page, true: str) -> None:
    """Wait until an expression holds in a page; its policy lets no waiting be done in there."""
    deadline = time.monotonic() + PATIENCE_MS / 1000
    while not page.evaluate(true):
        assert time.monotonic() < deadline, f"never came true: {true}"
        page.wait_for_timeout(20)


def _stays(address: str) -> bool:
    parts = urlsplit(address)
    return parts.scheme in ("data", "blob") or parts.hostname in ("127.0.0.1", "localhost")
