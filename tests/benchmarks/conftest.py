"""An option for the largest batch, and one table of every ratio at the end of the run."""

import platform
from collections.abc import Callable
from datetime import UTC, datetime
from importlib import import_module
from importlib.metadata import version
from pathlib import Path

import pytest

ROWS: list[tuple[str, str, str]] = []


def pytest_addoption(parser):
    parser.addoption(
        "--largest",
        type=float,
        default=1e6,
        help="points of the largest batch timed, up to 1e7 (default 1e6)",
    )


@pytest.fixture
def largest(request) -> int:
    return int(request.config.getoption("--largest"))


@pytest.fixture
def timer(request) -> Callable[[], float]:
    """The clock of the whole run; on a busy machine ask for --benchmark-timer=time.process_time."""
    module, _, name = str(request.config.getoption("benchmark_timer")).rpartition(".")
    return getattr(import_module(module), name)


@pytest.fixture
def note() -> Callable[[str, str, str], None]:
    """Adds a row to the table: what, figure, and what it was measured against."""
    return lambda what, figure, how: ROWS.append((what, figure, how))


def pytest_terminal_summary(terminalreporter):
    if not ROWS:
        return
    write = terminalreporter.write_line
    terminalreporter.section("operating point, for DEVELOPERS.md")
    write(f"{machine()}; {terminalreporter.config.getoption('benchmark_timer')}")
    write("")
    write("| what | measured | how |")
    write("|---|---|---|")
    for row in ROWS:
        write(f"| {' | '.join(row)} |")


def machine() -> str:
    """The machine, its software and the date in one line."""
    info = Path("/proc/cpuinfo")
    text = info.read_text(encoding="utf-8") if info.exists() else ""
    lines = [x.split(":", 1)[1].strip() for x in text.splitlines() if x.startswith("model name")]
    name = lines[0] if lines else platform.processor() or "unknown processor"
    cores = f"{len(lines)} cores" if lines else platform.machine()
    packages = ", ".join(f"{p} {version(p)}" for p in ("numpy", "scipy", "cvxpy", "clarabel"))
    date = datetime.now(UTC).date().isoformat()
    return f"{name}, {cores}, Python {platform.python_version()}, {packages}; {date}"
