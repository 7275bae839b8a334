"""Classes of vehicle and what they limit: general information, never advice; local law differs."""

from __future__ import annotations

from dataclasses import dataclass

from curves.units import KMH, MPH

TOUCH_V = 60.0
"""Volts of direct current above which protection against touch is called for."""
TOUCH_SOURCE = "IEC 61140 and IEC 60364-4-41"
PACK_STANDARDS = "UN 38.3 (transport), UL 2849, EN 50604-1"
DEFER = "General information, not advice: local law differs, ask where you ride."


@dataclass(frozen=True)
class RoadClass:
    """A class of vehicle, and the limits of it that a setup can be held against.

    Attributes:
        title: what it is.
        speed: m/s on motor alone.
        power: W as the class counts it, which for most is rated continuous power.
        counts: how the class counts power.
        rated_v: highest rated (not full-charge) volts, None where it sets none.
        source: the rule.
    """

    title: str
    speed: float
    power: float
    counts: str
    rated_v: float | None
    source: str


US_POWER = "motor power"
US_RULE = "36 CFR 1.4 (three-class rule)"
CLASSES: dict[str, RoadClass] = {
    "en-15194": RoadClass(
        "EN 15194 pedal-assist cycles", 25 * KMH, 250.0, "continuous rated power", 48.0,
        "EN 15194:2017",
    ),
    "us-bicycle": RoadClass(
        "low-speed electric bicycles in the USA", 20 * MPH, 750.0, "motor power, less than", None,
        "16 CFR 1512.2",
    ),
    "us-class-1": RoadClass("class 1 bicycles (USA)", 20 * MPH, 750.0, US_POWER, None, US_RULE),
    "us-class-2": RoadClass("class 2 bicycles (USA)", 20 * MPH, 750.0, US_POWER, None, US_RULE),
    "us-class-3": RoadClass("class 3 bicycles (USA)", 28 * MPH, 750.0, US_POWER, None, US_RULE),
    "l1e-b": RoadClass(
        "mopeds of EU class L1e-B", 45 * KMH, 4000.0, "continuous rated power", None,
        "Regulation (EU) 168/2013",
    ),
}  # fmt: skip
"""By the name a user chooses; none is assumed."""
