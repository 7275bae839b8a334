"""How what limits a setup is drawn along its strip: hatching, and words."""

from __future__ import annotations

from collections.abc import Sequence

HATCHING = {
    "phase current": "/",
    "field weakening current": "x",
    "pack current": "-",
    "power cap": ".",
    "low-voltage cut-off": "+",
    "voltage": "\\",
    "speed cap": "|",
    "motor speed": "|",
    "electrical speed": "|",
}
SHORT = {"field weakening current": "field weakening"}
WEAKENED = "field weakening current"


def said(words: Sequence[str]) -> str:
    """The words of a stretch as they are written on it."""
    ordered = sorted(words, key=lambda w: w == WEAKENED)
    return " + ".join(SHORT.get(w, w) for w in ordered) or "not driven"
