"""What several studies ask alike: the splits they time, and what stays while cells change."""

from __future__ import annotations

from curves.motion.runs import Targets
from curves.studies.cells import Caps, Hold
from curves.units import FOOT, MPH

TARGETS = Targets((20 * MPH, 30 * MPH), (660 * FOOT,))
SPLITS = ("0–20 mph", "0–30 mph", "0–660 ft")
"""Splits that studies time, and what they are called."""


HOLDS: dict[Hold, str] = {
    "strings": "Parallel strings",
    "cells": "Number of cells",
    "energy": "Energy",
}
CAPS: dict[Caps, str] = {
    "present": "As they are",
    "grown": "Growing with the pack",
    "same power": "The same power",
}


MOST_ROWS = 200
"""Lines of a table of round speeds."""
