"""The one place of colours, markers and type; the style sheet's variables are made from it."""

from __future__ import annotations

from typing import Any, NamedTuple

FONT = '"Source Sans 3", "Segoe UI", Roboto, "Helvetica Neue", Arial, sans-serif'

TOKENS: dict[str, dict[str, str]] = {
    "light": {
        "page": "#f6f4ef",
        "card": "#fffefb",
        "sunk": "#efece5",
        "ink": "#20242a",
        "soft": "#565d66",
        "line": "#d9d4c9",
        "edge": "#878d94",
        "grid": "#e9e5dc",
    },
    "dark": {
        "page": "#14171a",
        "card": "#1b1f23",
        "sunk": "#23282d",
        "ink": "#eceae4",
        "soft": "#adb3b9",
        "line": "#363c43",
        "edge": "#7d858d",
        "grid": "#2a2f35",
    },
}
"""Ink and paper only: the colours of the page belong to the setups."""


NEUTRAL = "#767e86"
"""Lines in a plot that belong to no setup: seen on light paper and on dark."""


class Mark(NamedTuple):
    """How a setup is told from others: colour, plot symbol, and the same shape for the page."""

    colour: str
    symbol: str
    shape: str


_COLOURS = (
    "#2b7bba",
    "#d1601f",
    "#12916a",
    "#b84a93",
    "#8a7a12",
    "#7a63c9",
    "#c9414b",
    "#138d9c",
    "#9a6a3c",
    "#5f7f2e",
    "#6d7f94",
    "#d0508a",
)
_SYMBOLS = (
    ("circle", "circle(42%)"),
    ("square", "inset(12%)"),
    ("triangle-up", "polygon(50% 6%, 98% 90%, 2% 90%)"),
    ("diamond", "polygon(50% 0, 100% 50%, 50% 100%, 0 50%)"),
    ("triangle-down", "polygon(50% 94%, 98% 10%, 2% 10%)"),
    ("cross", "polygon(34% 2%,66% 2%,66% 34%,98% 34%,98% 66%,66% 66%,66% 98%,34% 98%,34% 66%,"
     "2% 66%,2% 34%,34% 34%)"),
    ("pentagon", "polygon(50% 2%,98% 38%,80% 95%,20% 95%,2% 38%)"),
)  # fmt: skip


def mark(slot: int) -> Mark:
    """The mark of a slot; 84 of them differ in colour or shape."""
    symbol, shape = _SYMBOLS[slot % len(_SYMBOLS)]
    return Mark(_COLOURS[slot % len(_COLOURS)], symbol, shape)


def faint(colour: str, share: float) -> str:
    """A colour let through to the page."""
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},{share:g})"


def variables() -> str:
    """The style sheet's variables in both themes."""
    blocks = []
    for mode, tokens in TOKENS.items():
        lines = "".join(f"--{name}:{value};" for name, value in tokens.items())
        chosen = f':root[data-mantine-color-scheme="{mode}"]'
        blocks.append(f"{':root,' if mode == 'light' else ''}{chosen}{{{lines}}}")
    return "".join(blocks)


INK = ("#f6f6f5", "#e5e6e6", "#c9cbcd", "#adb3b9", "#8d949b", "#6d757d", "#565d66", "#3c434b",
       "#2a2f35", "#20242a")  # fmt: skip

NIGHT = ("#eceae4", "#c9cbcd", "#adb3b9", "#8d949b", "#565d66", "#363c43", "#23282d", "#1b1f23",
         "#171b1e", "#14171a")  # fmt: skip
"""What the components take for their own greys in the dark."""

MANTINE: dict[str, Any] = {
    "fontFamily": FONT,
    "headings": {"fontFamily": FONT, "fontWeight": "650"},
    "primaryColor": "ink",
    "primaryShade": {"light": 8, "dark": 1},
    "autoContrast": True,
    "colors": {"ink": list(INK), "dark": list(NIGHT)},
    "defaultRadius": "sm",
    "cursorType": "pointer",
    "respectReducedMotion": True,
}
