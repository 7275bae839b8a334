"""The one place of colours, markers and type; the style sheet's variables are made from it."""

from __future__ import annotations

from typing import Any, NamedTuple

from curves.present.marks import OUTLINES, mark_of

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
    """A setup's mark as the page needs it: colour, plot symbol, and the same shape for a style."""

    colour: str
    symbol: str
    shape: str


LARGEST = 1.2
"""How far the corners of the widest shape are from its middle, see ``curves.present.marks``."""


def mark(slot: int) -> Mark:
    """The mark of a slot; plots call the shapes by the names they have there."""
    found = mark_of(slot)
    corners = ", ".join(
        f"{50 + 50 * x / LARGEST:.0f}% {50 + 50 * y / LARGEST:.0f}%"
        for x, y in OUTLINES[found.shape]
    )
    return Mark(found.colour, found.shape, f"polygon({corners})" if corners else "circle(42%)")


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
