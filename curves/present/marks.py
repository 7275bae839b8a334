"""How a setup is told from others, on every page and in the report: a colour and a shape."""

from __future__ import annotations

from typing import NamedTuple


class Mark(NamedTuple):
    """How a setup is told from others: its colour and shape."""

    colour: str
    shape: str


COLOURS = (
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
OUTLINES: dict[str, tuple[tuple[float, float], ...]] = {
    "circle": (),
    "square": ((-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85)),
    "triangle-up": ((0, -1.1), (1.1, 0.85), (-1.1, 0.85)),
    "diamond": ((0, -1.2), (1.2, 0), (0, 1.2), (-1.2, 0)),
    "triangle-down": ((0, 1.1), (1.1, -0.85), (-1.1, -0.85)),
    "cross": (
        (-0.4, -1.1), (0.4, -1.1), (0.4, -0.4), (1.1, -0.4), (1.1, 0.4), (0.4, 0.4),
        (0.4, 1.1), (-0.4, 1.1), (-0.4, 0.4), (-1.1, 0.4), (-1.1, -0.4), (-0.4, -0.4),
    ),
    "pentagon": ((0, -1.1), (1.05, -0.34), (0.65, 0.89), (-0.65, 0.89), (-1.05, -0.34)),
}  # fmt: skip
"""Corners of each shape about its middle, in half sizes."""


def mark_of(slot: int) -> Mark:
    """The mark of a setup by its slot or place; 84 of them differ in colour or shape."""
    shapes = tuple(OUTLINES)
    return Mark(COLOURS[slot % len(COLOURS)], shapes[slot % len(shapes)])
