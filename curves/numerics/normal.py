"""The normal distribution: how far out its tails begin."""

from __future__ import annotations

from typing import Final

BAND: Final = 1.6449
"""Standard uncertainties from the middle to the 5 and 95 % points of a normal distribution."""
