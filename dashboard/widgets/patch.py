"""A change of the view, put there without touching what else changed meanwhile."""

from __future__ import annotations

from typing import Any

from dash import Patch

from dashboard.state.session import View


def keep(before: View, now: View) -> Any:
    """Only what differs between two views, for ``ids.VIEW``.

    Two callbacks under way at once both began from the same view; each may give back its own
    change alone, or the later undoes the earlier.

    Args:
        before: The view that the callback began from.
        now: With its change.
    """
    patch = Patch()
    old, new = before.data(), now.data()
    for name in old.keys() - {"extra"}:
        if new[name] != old[name]:
            patch[name] = new[name]
    for page, kept in new["extra"].items():
        if kept != old["extra"].get(page):
            patch["extra"][page] = kept
    return patch
