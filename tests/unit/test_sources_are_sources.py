"""What a reader is told of a value is a source, or that it is common practice."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("curves", "dashboard", "motor_profiles")
READ = (".py", ".toml", ".csv", ".js", ".css", ".html", ".md")
"""Help, messages, cells, profiles, the demonstration, pages: all a user reads."""
NO_SOURCE = re.compile(r"\b(from|by) (my |our )?memory\b|\bfrom recall\b", re.IGNORECASE)


def told():
    """Every file whose words may reach a reader; scripts of others are not ours to word."""
    inside = [file for room in ROOMS for file in sorted((ROOT / room).rglob("*"))]
    files = [*inside, ROOT / "README.md", ROOT / "DEVELOPERS.md"]
    return [f for f in files if f.suffix in READ and not f.name.endswith(".min.js")]


def joined(text):
    """Text as it is read: a sentence that goes on over two quoted lines is one."""
    return re.sub(r'["\'\s]+(?:f["\'])?', " ", text)


def test_a_sentence_over_two_lines_is_read_as_one():
    assert NO_SOURCE.search(joined('SOURCE = "a table (from "\n    "memory)"'))
    assert NO_SOURCE.search(joined('SOURCE = "a table (from "\n    f"memory of {x})"'))
    assert not NO_SOURCE.search(joined('SOURCE = "common practice"'))


def test_the_rooms_are_read():
    names = {file.name for file in told()}
    assert {"law.py", "nmc-21700.toml", "demo-hub-direct.toml", "client.js", "README.md"} <= names


@pytest.mark.parametrize("file", told(), ids=lambda file: str(file.relative_to(ROOT)))
def test_no_word_of_memory_stands_for_a_source(file):
    found = NO_SOURCE.search(joined(file.read_text(encoding="utf-8")))
    assert found is None, f"{file.name}: {found and found[0]!r} is no source"
