"""Run every check; its exit status is that of the first that fails."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from itertools import chain
from pathlib import Path
from typing import IO

from tests.browser_path import find_browser

ROOT = Path(__file__).resolve().parent.parent
MODULES = ("tests of one module or page", "tests/unit")
BROWSER = ("tests in the browser", "tests/browser")
"""What two processes begin with, one a core. An open browser session is of its own: it and an
event loop do not mix."""
LAWS = ("laws", "tests/properties")
KNOWN = (MODULES[1], BROWSER[1], LAWS[1], "tests/benchmarks")
LATER = (LAWS, ("all others", *(f"--ignore={folder}" for folder in KNOWN)))
"""What is begun by whichever has done with its own, so that both end at about the same time."""
NO_BROWSER = (
    "The browser tests need a Chromium and none was found, nor could one be fetched.\n"
    "Install one (Debian: apt-get install chromium) and run again."
)


def main() -> int:
    python = sys.executable
    lint_imports = shutil.which("lint-imports", path=str(Path(python).parent)) or "lint-imports"
    quick = [
        ("ruff check", [python, "-m", "ruff", "check", "."]),
        ("ruff format", [python, "-m", "ruff", "format", "--check", "."]),
        ("mypy", [python, "-m", "mypy"]),
        ("import layers", [lint_imports]),
    ]
    for name, command in quick:
        if failed := run(name, command):
            return failed
    if find_browser() is None:
        subprocess.run([python, "-m", "playwright", "install", "chromium"], cwd=ROOT, check=False)
        if find_browser() is None:
            print(NO_BROWSER, file=sys.stderr)
            return 1
    with tempfile.TemporaryFile("w+", encoding="utf-8") as said:
        left = iter(LATER)

        def lane(first: tuple[str, ...], said: IO[str] | None = None) -> list[int]:
            parts = chain((first,), left)
            return [run(name, [python, "-m", "pytest", *what], said) for name, *what in parts]

        with ThreadPoolExecutor(1) as other:
            beside = other.submit(lane, BROWSER, said)
            statuses = lane(MODULES) + beside.result()
        said.seek(0)
        print(said.read(), flush=True)
    return next((status for status in statuses if status), 0)


def run(name: str, command: list[str], said: IO[str] | None = None) -> int:
    """Run one command; its exit status. What it says goes to a file where one is given."""
    print(f"\n== {name}: {' '.join(command[1:] or command)}", file=said, flush=True)
    status = subprocess.run(command, cwd=ROOT, check=False, stdout=said, stderr=said).returncode
    if status:
        print(f"\n{name} failed (exit status {status})", file=said or sys.stderr, flush=True)
    return status


if __name__ == "__main__":
    sys.exit(main())
