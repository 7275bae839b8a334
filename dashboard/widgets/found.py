"""Cells of the table of setups for answers that may still be being worked out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from dashboard.answers.setups import Reading
from dashboard.widgets.progress import WORKING


def cell(
    found: Sequence[tuple[Reading, Any]] | None, say: Callable[[Any, Any], Any]
) -> Callable[[Reading, Reading | None], Any]:
    """A cell of what was found for a setup, and for the one it is compared to; none of one hidden.

    Args:
        found: What was found for each; None where that is not known yet.
        say: Makes the cell of a setup's answer and, or None, that of the one compared to.
    """
    by_slot = None if found is None else {r.slot: x for r, x in found}

    def said(r: Reading, against: Reading | None) -> Any:
        if by_slot is None:
            return WORKING
        own = by_slot.get(r.slot)
        return None if own is None else say(own, against and by_slot.get(against.slot))

    return said
