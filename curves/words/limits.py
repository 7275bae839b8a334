"""What holds a setup, as people say it."""

from __future__ import annotations


def held_by(words: tuple[str, ...]) -> str:
    """Limits as people say them in a sentence.

    Args:
        words: of what limits; may be none.
    """
    if not words:
        return "nothing that has a name"
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))
