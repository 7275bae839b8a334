"""What one more volt, cell, ampere or watt buys at a point, in the units of the job."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array
from curves.point.gains import Gains
from curves.setups.batch import Batch


def torque_gains(b: Batch, gain: Gains) -> dict[str, Array]:
    """Torque gained per unit more of each input, N m at the rotor.

    Args:
        b: The setups.
        gain: The gains of their points, arrays (setups, speeds).

    Returns:
        ``pack_v``, ``series_cell`` (its volts and its resistance; NaN for a source pack),
        ``pack_a``, ``phase_a`` and ``weakening_a`` (per ampere in the tune's basis), ``w``; arrays
        (setups, speeds), NaN where nothing is driven or the gain is infinite.
    """
    return {
        "pack_v": gain.pack_v,
        "series_cell": gain.pack_v * b.cell_v + gain.pack_ohm * b.cell_ohm,
        "pack_a": gain.pack,
        "phase_a": gain.phase * b.phase_per_a,
        "weakening_a": gain.weakening * b.basis,
        "w": gain.cap,
    }


def rotor_per_road(b: Batch, gear: NDArray[np.intp]) -> Array:
    """Rotor radians per metre of road in the gears that drive, shape (setups, speeds).

    Args:
        b: The setups.
        gear: Position of each gear, 0 the tallest, shape (setups, speeds).
    """
    return np.asarray(np.take_along_axis(b.ratio, gear, 1) / b.radius)
