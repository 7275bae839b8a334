"""What a page keeps in the view, put there without touching what else changed meanwhile."""

from __future__ import annotations

from typing import Any

from dash import Patch

from dashboard.state import View


def keep(view: View, page: str) -> Any:
    """Only a page's own part of a view, for ``ids.VIEW``.

    Two callbacks under way at once both began from the same view; each may give back its own part
    alone, or the later undoes the earlier.

    Args:
        view: With what the page keeps.
        page: Name of the page.
    """
    patch = Patch()
    patch["extra"][page] = view.extra[page]
    return patch
