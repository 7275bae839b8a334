"""Text of others as it may be shown: on a terminal, on a page, in a report, in a spreadsheet."""

from __future__ import annotations

import re

CONTROLS = (
    r"\x00-\x1f\x7f-\x9f"
    # What breaks lines or turns the way of reading, and what marks no letter at all.
    r"\u2028-\u202e\u2066-\u2069\ufeff\ufff9-\ufffb\ufffe\uffff"
)
"""Of a set of characters in a pattern: those that no name may hold."""
_CONTROL = re.compile(rf"[{CONTROLS}\ud800-\udfff]")
_UNSHOWN = re.compile(rf"(?![\t\n])[{CONTROLS}\ud800-\udfff]")
_SIGNS = "=+\\-@\uff1d\uff0b\uff0d\uff20\ufe66\ufe62\ufe63\ufe6b"
_NUMBER = r"\s*[+-]?[0-9][0-9.,]*[^-+=@(!|;,\t]*([;,|\t]|$)"
# A spreadsheet may part cells at other marks than the comma; a number, its unit behind it, is no
# formula there.
_FORMULA = re.compile(rf"^(?=[{_SIGNS}\t\r\n])|(^|[;,|\t\r\n])(\s*)(?!{_NUMBER})(?=[{_SIGNS}])")


def has_controls(text: str) -> bool:
    """Whether there is in a text what no name may hold: it would act, not be read."""
    return _CONTROL.search(text) is not None


def showable(text: str) -> str:
    r"""A text in which nothing acts on a terminal or page: a mark for each character that would.

    Args:
        text: Any; line feeds and tabs stay.

    >>> showable("hub\x1b[31m")
    'hub\ufffd[31m'
    """
    return _UNSHOWN.sub("\ufffd", text)


def no_formula(text: str) -> str:
    """A text for a cell that no spreadsheet takes for a formula, whatever it parts cells at.

    Args:
        text: Any.

    >>> no_formula("=1+1"), no_formula("a;=1+1"), no_formula("13 cells")
    ("'=1+1", "a;'=1+1", '13 cells')
    """
    return showable(_FORMULA.sub(lambda found: f"{found[0]}'", text))
