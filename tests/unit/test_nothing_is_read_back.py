"""No sentence, heading or number is taken apart again once it is text."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ROOMS = (
    *(f"curves/{room}" for room in ("words", "present", "report", "commands")),
    *(f"dashboard/{room}" for room in ("pages", "widgets", "figures", "shell")),
)
BETWEEN = {". ", "; ", ": ", ", ", " "}
"""What stands between the parts of a text for people; what they type has it without a space."""
KNOWN = {
    ("dashboard/widgets/readings.py", ": "),
    ("dashboard/pages/bench/page.py", " "),
    ("dashboard/figures/lines.py", ", "),
}
"""What is left: a problem's place is one text, and so is what an axis is with its unit."""


def taken_apart(file):
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            by = node.args[0] if node.args else None
            if node.func.attr in ("split", "rsplit", "partition", "rpartition"):
                yield by.value if isinstance(by, ast.Constant) else None


@pytest.mark.parametrize("room", ROOMS)
def test_no_text_is_split_where_sentences_and_cells_are_joined(room):
    found = {
        (str(file.relative_to(ROOT)), by)
        for file in (ROOT / room).rglob("*.py")
        for by in taken_apart(file)
        if by in BETWEEN
    }
    assert found == {(file, by) for file, by in KNOWN if file.startswith(room)}


def test_no_script_reads_a_number_out_of_a_cell():
    for name in ("tables.js", "share.js"):
        script = (ROOT / "dashboard/assets" / name).read_text(encoding="utf-8")
        assert "parseFloat" not in script
        # A minus sign is only turned back where a number is read from what people see.
        assert "2212" not in script
        assert "−" not in script
