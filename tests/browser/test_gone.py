"""A server that stops: the page says so, keeps what was done, and comes back with the server."""

import threading

from playwright.sync_api import expect
from waitress import create_server

from curves import load_job
from dashboard.app import LOOPBACK, create_app
from tests.browser.conftest import PATIENCE_MS


class Server:
    """The dashboard, to be stopped and started again at the same address."""

    def __init__(self, job=None):
        self.port, self.job = 0, job or load_job()

    def start(self) -> str:
        app = create_app(self.job).server
        self.server = create_server(app, host=LOOPBACK, port=self.port, threads=6)
        self.port = int(self.server.effective_port)
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()
        return f"http://{LOOPBACK}:{self.port}/"

    def stop(self):
        self.server.close()
        # Connections that are kept open would go on being answered.
        self.server.asyncore.close_all(self.server._map)
        self.thread.join(timeout=5)


def test_the_page_says_so_and_comes_back(browser):
    server = Server()
    context = browser.new_context()
    context.add_init_script("localStorage.setItem('rimforce/toured', 'true')")
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    try:
        page.goto(server.start())
        page.get_by_label("Edit pack cells-13").first.click()
        page.get_by_label("Cells in series").fill("15")
        expect(page.locator("h1")).to_contain_text("15 cells")
        server.stop()
        page.get_by_label("Cells in series").fill("16")
        expect(page.get_by_role("status").first).to_contain_text("has stopped")
        server.start()
        # What was answered before it stopped is there again.
        expect(page.get_by_role("status").first).to_be_empty()
        expect(page.locator("h1")).to_contain_text("15 cells")
    finally:
        context.close()
        server.stop()
