"""Where a Chromium is; the browser tests and the runner both ask here."""

from __future__ import annotations

import shutil
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "msedge")


def find_browser() -> str | None:
    """Path of an installed Chromium, the system's before playwright's own, or None."""
    for name in NAMES:
        if (path := shutil.which(name)) is not None:
            return path
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        own = Path(playwright.chromium.executable_path)
    return str(own) if own.is_file() else None
