"""What a log can hold: quantities, the words loggers use for them, and their units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from curves.measured.clock import DAY
from curves.numerics.roots import Array
from curves.units import FOOT, HOUR, KILOMETRE, KMH, MICRO, MILE, MILLI, MINUTE, MPH, RPM

KNOT: Final = 1852 / HOUR
CLOCK_UNIT: Final = "clock"
"""Unit of a time column that holds dates or clock times."""

UNITS: Final[dict[str, dict[str, float]]] = {
    "time": {
        **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sek", "sekunden"), 1.0),
        **dict.fromkeys(("ms", "msec", "millis", "milliseconds", "millisekunden"), MILLI),
        **dict.fromkeys(("us", "µs", "usec", "microseconds", "micros"), MICRO),
        **dict.fromkeys(("min", "minutes"), MINUTE),
        **dict.fromkeys(("h", "hours"), HOUR),
        **dict.fromkeys(("d", "days"), DAY),
        CLOCK_UNIT: 1.0,
    },
    "speed": {
        **dict.fromkeys(("km/h", "kmh", "kph", "kmph", "km/std"), KMH),
        "mph": MPH,
        **dict.fromkeys(("m/s", "mps", "ms", "m/sec"), 1.0),
        **dict.fromkeys(("kn", "kt", "kts", "knots"), KNOT),
        **dict.fromkeys(("ft/s", "fps"), FOOT),
    },
    "length": {
        **dict.fromkeys(("m", "meter", "metre", "meters", "metres"), 1.0),
        "km": KILOMETRE,
        **dict.fromkeys(("mi", "mile", "miles"), MILE),
        **dict.fromkeys(("ft", "feet"), FOOT),
    },
    "angle": dict.fromkeys(("deg", "°", "degrees", "grad"), 1.0),
    "volts": {**dict.fromkeys(("v", "volt", "volts"), 1.0), "mv": MILLI},
    "amperes": {**dict.fromkeys(("a", "amp", "amps", "ampere", "amperes"), 1.0), "ma": MILLI},
    "watts": {**dict.fromkeys(("w", "watt", "watts"), 1.0), "kw": 1000.0},
    "turning": {**dict.fromkeys(("rpm", "1/min", "u/min", "min-1"), RPM), "rad/s": 1.0},
    "celsius": {**dict.fromkeys(("c", "°c", "degc", "celsius"), 1.0), "°f": 5 / 9, "f": 5 / 9},
}
"""SI per unit, by the kind of quantity, in the spellings of loggers."""


@dataclass(frozen=True)
class Quantity:
    """Something a log can hold: its kind, the words its headings use, what its unit usually is."""

    kind: str
    words: tuple[str, ...]
    usual: str
    unlike: tuple[str, ...] = ()


QUANTITIES: Final[dict[str, Quantity]] = {
    "time": Quantity(
        "time",
        (
            "time",
            "timestamp",
            "zeit",
            "temps",
            "tiempo",
            "tempo",
            "tijd",
            "elapsed",
            "uhrzeit",
            "datetime",
            "utc",
            "clock",
            "t",
            "seconds",
            "millis",
            "ms",
        ),
        "s",
        ("lap", "zone", "fix", "date"),
    ),
    "speed": Quantity(
        "speed",
        (
            "speed",
            "velocity",
            "geschwindigkeit",
            "vitesse",
            "velocidad",
            "velocita",
            "snelheid",
            "tempo",
            "gps speed",
            "v",
            "kmh",
            "mph",
            "kph",
            "speed kmh",
        ),
        "km/h",
        ("rpm", "erpm", "wind", "accuracy", "max", "avg", "average", "fan", "motor"),
    ),
    "distance": Quantity(
        "length",
        (
            "distance",
            "dist",
            "strecke",
            "weg",
            "distanz",
            "distancia",
            "distanza",
            "afstand",
            "odometer",
            "odo",
            "trip",
        ),
        "m",
        ("to", "accuracy", "remaining"),
    ),
    "latitude": Quantity("angle", ("latitude", "lat", "breite", "breitengrad"), "deg"),
    "longitude": Quantity(
        "angle", ("longitude", "lon", "lng", "long", "lange", "langengrad"), "deg"
    ),
    "altitude": Quantity(
        "length", ("altitude", "alt", "elevation", "ele", "hohe", "height"), "m", ("accuracy",)
    ),
    "pack_v": Quantity(
        "volts",
        (
            "pack v",
            "pack voltage",
            "battery voltage",
            "batt voltage",
            "input voltage",
            "voltage",
            "volts",
            "volt",
            "spannung",
            "akkuspannung",
            "tension",
            "tensione",
            "spanning",
            "vbat",
            "v in",
            "voltage in",
            "bus voltage",
            "u",
        ),
        "V",
        ("cell", "throttle", "phase", "min", "max", "5v", "12v", "vd", "vq"),
    ),
    "pack_a": Quantity(
        "amperes",
        (
            "pack a",
            "pack current",
            "battery current",
            "batt current",
            "input current",
            "current in",
            "current",
            "amps",
            "ampere",
            "strom",
            "akkustrom",
            "courant",
            "corriente",
            "corrente",
            "stroom",
            "ibat",
            "i in",
            "i",
        ),
        "A",
        ("motor", "phase", "id", "iq", "max", "limit"),
    ),
    "pack_w": Quantity(
        "watts",
        ("power", "watts", "leistung", "puissance", "potencia", "potenza", "vermogen"),
        "W",
        ("max", "factor"),
    ),
    "motor_c": Quantity(
        "celsius",
        (
            "motor temperature",
            "motor temp",
            "temp motor",
            "winding temperature",
            "motortemperatur",
            "motor c",
            "winding c",
        ),
        "°C",
        ("controller", "fet", "mosfet", "air", "ambient", "battery"),
    ),
    "rotor_rpm": Quantity(
        "turning",
        ("rotor rpm", "motor rpm", "rotor speed", "motor speed", "rpm"),
        "rpm",
        ("erpm", "wheel", "cadence"),
    ),
    "electrical_rpm": Quantity("turning", ("erpm", "electrical rpm", "electrical speed"), "rpm"),
    "wheel_rpm": Quantity("turning", ("wheel rpm", "wheel speed", "raddrehzahl"), "rpm"),
}
SAID_BY_UNIT: Final = {"volts": "voltage", "amperes": "current", "watts": "power"}
"""What a heading such as battery_v leaves to its unit to say, by kind."""
SINGLE: Final = {"V": "volts", "A": "amps", "W": "watts"}
"""Headings that mean a unit where they are capitals, and something else where they are not."""
PLAIN: Final = ("angle", "volts", "amperes", "watts", "turning", "celsius")
"""Kinds whose unit hardly needs saying."""
FAHRENHEIT: Final = ("°f", "f")


def to_si(values: Array, quantity: str, unit: str) -> Array:
    """Values of a column in SI (temperatures in °C).

    Args:
        values: as the log has them, any shape.
        quantity: one of ``QUANTITIES``.
        unit: one of its kind's ``UNITS``.
    """
    zero = 32.0 if quantity == "motor_c" and unit.lower() in FAHRENHEIT else 0.0
    return np.asarray((values - zero) * UNITS[QUANTITIES[quantity].kind][unit.lower()])
