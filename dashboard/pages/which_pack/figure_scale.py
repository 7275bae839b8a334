"""What the first page's panels share: which there are, and how speeds become places."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from curves.numerics.counts import round_step
from dashboard.answers.curve import Array, Curve
from dashboard.answers.setups import Reading
from dashboard.base.words import speed_factor
from dashboard.figures.spec import finite_max, round_up

LEFT, TOP, BOTTOM = 52, 48, 46
WIDE = 600
"""From here on names may stand beside the plots, px."""
GAP = 44
"""Between panels, room for the title of the lower one, px."""
NUMBER = 46
"""Room for a number on the axis of speed, px."""
LEAST_STEP = 5.0
NUMBERS = 18
"""More room below the first panel, for the numbers of its axis, px."""


class Panel(NamedTuple):
    """A quantity with a panel of its own."""

    key: str
    title: str
    unit: str
    height: int
    read: Callable[[Curve], Array]


class Road(NamedTuple):
    """A road-load line: its name, and its force over speed (km/h, N)."""

    name: str
    speed: Array
    force: Array


BRAKING = Panel("braking", "Braking by the motor, at the rim", "N", 150, lambda c: c.braking)
USUAL = ("force", "limits", "rim-power", "pack-current")
"""Panels drawn until others are chosen; braking is always there where a motor brakes."""
PANELS = (
    Panel("force", "Force at the rim", "N", 330, lambda c: c.force),
    Panel("limits", "What limits it", "", 0, lambda c: c.force),
    Panel("rim-power", "Power at the rim", "W", 170, lambda c: c.rim_power),
    Panel("pack-power", "Power from the pack", "W", 170, lambda c: c.pack_power),
    Panel("pack-current", "Pack current", "A", 150, lambda c: c.pack_current),
    Panel("phase-current", "Phase current, peak", "A", 150, lambda c: c.phase_current),
)


def panels_of(readings: Sequence[Reading], keys: Sequence[str]) -> tuple[Panel, ...]:
    """The panels drawn for some setups.

    Args:
        readings: The setups: where the motor of any brakes, that has a panel.
        keys: Of the panels chosen; the force is always among them.
    """
    chosen = [p for p in PANELS if p.key in ("force", *keys)]
    return (*chosen, BRAKING) if _brakes(readings) else tuple(chosen)


def lines_of(readings: Sequence[Reading]) -> tuple[Panel, ...]:
    """Every quantity over speed, whether drawn or not."""
    lines = tuple(p for p in PANELS if p.key != "limits")
    return (*lines, BRAKING) if _brakes(readings) else lines


def _brakes(readings: Sequence[Reading]) -> bool:
    return any(np.isfinite(r.curve.braking).any() for r in readings)


class Frame(NamedTuple):
    """The size and scale that all panels share, and the keys of those chosen."""

    width: int
    last: float
    unit: str
    keys: tuple[str, ...] = USUAL

    @property
    def narrow(self) -> bool:
        """Whether there is no room beside the plots."""
        return self.width < WIDE

    @property
    def right(self) -> int:
        """Margin beside the plots, room for names, px."""
        return 16 if self.narrow else 132

    @property
    def across(self) -> float:
        """Width of the plots, px."""
        return max(self.width - LEFT - self.right, 120.0)

    @property
    def last_kmh(self) -> float:
        """The end of the axis, km/h."""
        return self.last / speed_factor(self.unit)

    @property
    def step(self) -> float:
        """Between numbers on the axis of speed."""
        return max(round_step(self.last, self.across / NUMBER), LEAST_STEP)

    def px(self, kmh: float) -> float:
        """A road speed in px from the left edge."""
        return kmh * speed_factor(self.unit) / self.last * self.across


def frame(readings: Sequence[Reading], width: int, unit: str, keys: Sequence[str] = USUAL) -> Frame:
    """Size and scale for some setups.

    Args:
        readings: The setups drawn.
        width: Of the figure, px.
        unit: ``km/h`` or ``mph``.
        keys: Of the panels chosen.
    """
    end = max((r.curve.end for r in readings), default=50.0) * speed_factor(unit)
    return Frame(width, float(math.ceil(end * 1.02 / 5) * 5), unit, tuple(keys))


def top_of(panel: Panel, readings: Sequence[Reading]) -> float:
    """Upper end of a panel's axis."""
    return round_up(1.04 * finite_max([panel.read(r.curve) for r in readings]))
