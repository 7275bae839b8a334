"""Colours, marks and the style sheet of the report; a setup keeps its mark throughout."""

from __future__ import annotations

import base64
from functools import cache
from importlib import resources
from pathlib import Path

from curves.present.marks import OUTLINES, Mark
from curves.report.markup import Attribute, Markup, short, tag

FONT = "source-sans-3-latin-wght-normal.woff2"
FONTS = Path(__file__).parent / "fonts"
"""Where the one copy of the type lies, its licence beside it."""
LIGHT = {
    "page": "#ffffff",
    "sunk": "#f4f2ec",
    "ink": "#20242a",
    "soft": "#565d66",
    "line": "#d9d4c9",
    "edge": "#878d94",
    "grid": "#e6e2d9",
    "road": "#3c434b",
}
DARK = {
    "page": "#14171a",
    "sunk": "#1f2429",
    "ink": "#eceae4",
    "soft": "#adb3b9",
    "line": "#363c43",
    "edge": "#7d858d",
    "grid": "#2a2f35",
    "road": "#c9c8c2",
}
"""Ink and paper only: colours belong to the setups, and are seen on both papers."""


def shape(mark: Mark, x: float, y: float, size: float, *, outlined: bool = False) -> Markup:
    """A mark in a drawing.

    Args:
        mark: whose.
        x: its middle, px.
        y: its middle, px.
        size: half its height, px.
        outlined: with a rim of paper, so that it stands off what it lies on.
    """
    rim: dict[str, Attribute] = {}
    if outlined:
        rim = {"class_": "s-page", "stroke": LIGHT["page"], "stroke_width": 1.6}
    corners = OUTLINES[mark.shape]
    if not corners:
        return tag("circle", cx=x, cy=y, r=size, fill=mark.colour, **rim)
    points = " ".join(f"{short(x + a * size)},{short(y + b * size)}" for a, b in corners)
    return tag("polygon", points=points, fill=mark.colour, **rim)


def swatch(mark: Mark) -> Markup:
    """A mark in running text."""
    return tag(
        "svg",
        shape(mark, 7, 7, 5.4),
        class_="swatch",
        viewBox="0 0 14 14",
        width="13",
        height="13",
        aria_hidden="true",
    )


@cache
def style() -> str:
    """The style sheet with its colours and its type inside."""
    sheet = (resources.files(__package__) / "report.css").read_text(encoding="utf-8")
    return (
        sheet.replace("/*LIGHT*/", _variables(LIGHT))
        .replace("/*DARK*/", _variables(DARK))
        .replace("FONT", _font())
    )


def _variables(colours: dict[str, str]) -> str:
    return "".join(f"--{name}:{value};" for name, value in colours.items())


def _font() -> str:
    data = (FONTS / FONT).read_bytes()
    return f"data:font/woff2;base64,{base64.b64encode(data).decode('ascii')}"
