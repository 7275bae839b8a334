"""Buttons named by their words."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc


def plain_button(words: str, **more: Any) -> Any:
    """A button of less weight, named by its words."""
    return dmc.Button(words, variant="default", size="compact-sm", **more)


def main_button(words: str, **more: Any) -> Any:
    """The button that a card is about."""
    return dmc.Button(words, size="compact-sm", className="strong", **more)
