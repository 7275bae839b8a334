"""Run every check; its exit status is that of the first that fails."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
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
    pytest = [python, "-m", "pytest"]
    # A process of its own, at the same time: an open browser session and an event loop do not mix.
    with tempfile.TemporaryFile("w+", encoding="utf-8") as said:
        beside = subprocess.Popen([*pytest, BROWSER], cwd=ROOT, stdout=said, stderr=said)
        try:
            others = [*pytest, f"--ignore={BROWSER}", "--ignore=tests/benchmarks"]
            failed = run("tests without a browser", others)
            in_browser = beside.wait()
        finally:
            beside.kill()
        said.seek(0)
        print(f"\n== tests in the browser\n{said.read()}", flush=True)
    return failed or in_browser


def run(name: str, command: list[str]) -> int:
    print(f"\n== {name}: {' '.join(command[1:] or command)}", flush=True)
    status = subprocess.run(command, cwd=ROOT, check=False).returncode
    if status:
        print(f"\n{name} failed (exit status {status})", file=sys.stderr)
    return status


if __name__ == "__main__":
    sys.exit(main())
