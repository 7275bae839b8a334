"""Pictures of the real pages for README.md: ``python -m tests.take_pictures``."""

import threading
from pathlib import Path

from playwright.sync_api import expect, sync_playwright
from waitress import create_server

from dashboard.app import create_app
from tests.browser.conftest import FLAGS, NO_TOUR
from tests.browser_path import find_browser

FOLDER = Path(__file__).parent / "pictures"
PAGES = {
    "which-pack": "",
    "how-many-cells": "cells",
    "does-it-stay-cool": "heat",
    "report": "report",
}
MOST_BYTES = 150_000
PATIENCE_MS = 120_000


def main() -> None:
    """Take them all; they show the demonstration."""
    server = create_server(create_app().server, host="127.0.0.1", port=0, threads=6)
    threading.Thread(target=server.run, daemon=True).start()
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=find_browser(), args=FLAGS)
        page = chromium.new_page(viewport={"width": 1060, "height": 700})
        page.add_init_script(NO_TOUR)
        for name, path in PAGES.items():
            page.goto(f"http://127.0.0.1:{server.effective_port}/{path}")
            expect(page.locator("h1")).not_to_contain_text("…", timeout=PATIENCE_MS)
            page.evaluate("document.fonts.ready.then(() => true)")
            if path:
                shown = page.locator("#page-body .card:has(.js-plotly-plot, iframe)").first
                shown.evaluate("(card) => card.scrollIntoView({ block: 'start' })")
            page.wait_for_timeout(1500)
            file = FOLDER / f"{name}.png"
            page.screenshot(path=file)
            assert file.stat().st_size <= MOST_BYTES, (name, file.stat().st_size)
            print(file.relative_to(FOLDER.parent.parent), file.stat().st_size)
        chromium.close()


if __name__ == "__main__":
    main()
