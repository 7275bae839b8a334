"""Numbers read without a logger, and what setups predict of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from curves.motion.energy import consumption
from curves.motion.heat import settled
from curves.numerics.roots import Array
from curves.parts.reading import refuse, show
from curves.setups.stack import Stack
from curves.steady.balance import batch_top_speed
from curves.units import KMH


@dataclass(frozen=True)
class Typed:
    """What was read without a logger; leave out what was not.

    Attributes:
        top_speed_kmh: On the level, no wind, as the job's conditions say.
        resting_v: Of the pack, before the ride.
        loaded_v: Of the pack under ``amperes``.
        amperes: The known current.
        motor_c: Winding temperature once it no longer rises at ``motor_speed_kmh``.
        motor_speed_kmh: The steady speed it was read at.
        wh_per_km: At the controller's input, at ``wh_speed_kmh``.
        wh_speed_kmh: The steady speed it was read at.
    """

    top_speed_kmh: float | None = None
    resting_v: float | None = None
    loaded_v: float | None = None
    amperes: float | None = None
    motor_c: float | None = None
    motor_speed_kmh: float | None = None
    wh_per_km: float | None = None
    wh_speed_kmh: float | None = None


METERS: Final[Mapping[str, tuple[float, float]]] = {
    "top_speed_kmh": (0.01, 0.3),
    "resting_v": (0.003, 0.05),
    "loaded_v": (0.003, 0.1),
    "motor_c": (0.0, 4.0),
    "wh_per_km": (0.03, 0.1),
}
"""Standard uncertainty of a typed number, a share of it and an amount (common practice)."""
WORDS: Final[Mapping[str, tuple[str, str]]] = {
    "top_speed_kmh": ("top speed", "km/h"),
    "resting_v": ("resting volts", "V"),
    "loaded_v": ("volts under load", "V"),
    "motor_c": ("motor temperature", "°C"),
    "wh_per_km": ("energy", "Wh/km"),
}
WITH: Final[Mapping[str, str]] = {
    "loaded_v": "amperes",
    "motor_c": "motor_speed_kmh",
    "wh_per_km": "wh_speed_kmh",
}
"""What a number means nothing without."""


def asked_of(typed: Typed) -> tuple[str, ...]:
    """Names of the numbers that were typed, in the order of ``METERS``.

    Args:
        typed: what was read.

    Raises:
        JobError: if nothing was, a number is none, or one means nothing alone.
    """
    asked = tuple(name for name in METERS if getattr(typed, name) is not None)
    if not asked:
        refuse("recheck", f"needs at least one of {', '.join(METERS)}")
    for name in asked:
        other, value = WITH.get(name), getattr(typed, name)
        if not np.isfinite(value) or (value <= 0 and name != "motor_c"):
            refuse(name, "must be a number above 0", show(value))
        if other is not None and not (getattr(typed, other) or 0) > 0:
            refuse(name, f"means nothing without {other}, above 0")
    return asked


def predictions(setups: Stack, typed: Typed, asked: tuple[str, ...]) -> Array:
    """What setups predict of the numbers that were typed.

    Args:
        setups: the setups.
        typed: says at which current and speeds.
        asked: names in ``Typed``.

    Returns:
        In the numbers' units, shape (setups, asked); NaN where a setup does not get there.
    """
    batch = setups.batch()
    each = np.ones(batch.size)

    def motor_c() -> Array:
        at = settled(setups, each * (typed.motor_speed_kmh or 0.0) * KMH, slower=False)
        return np.where(at.held & np.isfinite(at.winding_c), at.winding_c, np.nan)

    ways: Mapping[str, Callable[[], Array]] = {
        "top_speed_kmh": lambda: batch_top_speed(batch, setups.names).speed / KMH,
        "resting_v": lambda: batch.drive.open_circuit_v[:, 0],
        "loaded_v": lambda: (
            batch.drive.open_circuit_v - batch.drive.pack_resistance * (typed.amperes or 0.0)
        )[:, 0],
        "motor_c": motor_c,
        "wh_per_km": lambda: consumption(
            setups, np.array([(typed.wh_speed_kmh or 0.0) * KMH])
        ).wh_per_km[:, 0],
    }
    return np.column_stack([np.broadcast_to(ways[name](), (batch.size,)) for name in asked])
