"""Run every check in order; the first that fails ends it with its exit status."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from tests.browser_path import find_browser

ROOT = Path(__file__).resolve().parent.parent
BROWSER = "tests/browser"
NO_BROWSER = (
    "The browser tests need a Chromium and none was found, nor could one be fetched.\n"
    "Install one (Debian: apt-get install chromium) and run again."
)


def main() -> int:
    python = sys.executable
    lint_imports = shutil.which("lint-imports", path=str(Path(python).parent)) or "lint-imports"
    steps = [
        ("ruff check", [python, "-m", "ruff", "check", "."]),
        ("ruff format", [python, "-m", "ruff", "format", "--check", "."]),
        ("mypy", [python, "-m", "mypy"]),
        ("import layers", [lint_imports]),
        (
            "tests without a browser",
            [python, "-m", "pytest", f"--ignore={BROWSER}", "--ignore=tests/benchmarks"],
        ),
    ]
    for name, command in steps:
        if failed := run(name, command):
            return failed
    if find_browser() is None:
        subprocess.run([python, "-m", "playwright", "install", "chromium"], cwd=ROOT, check=False)
        if find_browser() is None:
            print(NO_BROWSER, file=sys.stderr)
            return 1
    # A process of its own: an open browser session and an event loop do not mix.
    return run("tests in the browser", [python, "-m", "pytest", BROWSER])


def run(name: str, command: list[str]) -> int:
    print(f"\n== {name}: {' '.join(command[1:] or command)}", flush=True)
    status = subprocess.run(command, cwd=ROOT, check=False).returncode
    if status:
        print(f"\n{name} failed (exit status {status})", file=sys.stderr)
    return status


if __name__ == "__main__":
    sys.exit(main())
