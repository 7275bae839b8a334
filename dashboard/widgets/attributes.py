"""Attributes of HTML whose names carry a hyphen, which a Python argument cannot."""

from __future__ import annotations

from typing import Any


def attributes(**named: object) -> dict[str, Any]:
    """Return what to unpack into a component: ``aria_label="Setups"`` is its ``aria-label``.

    Args:
        named: Values of the attributes, each under its name with underscores for hyphens.
    """
    # Any: a component's stub asks each named argument for its own type, never for these names.
    return {name.replace("_", "-"): value for name, value in named.items()}
