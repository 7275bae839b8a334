"""How much force the tyre and the other wheel allow: grip with load transfer, and lift.

The resisting forces (air, slope, inertia) are taken at the height of the centre of gravity, as is
usual. Then the weight that moves from the front wheel to the rear is the driving force times
height over wheelbase, whatever the mix of acceleration, slope and air, and the force that depends
on its own load transfer has a closed form. Spin of the wheels and rolling resistance are left out
of the transfer (about 1 % of it).

Source: V. Cossalter, *Motorcycle Dynamics*, chapter on rectilinear motion.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from curves.parts.base import FloatArray

ArrayLike = npt.ArrayLike


def traction_force(
    weight_n: ArrayLike,
    grip: ArrayLike,
    wheelbase_m: ArrayLike,
    cg_height_m: ArrayLike,
    cg_to_rear_axle_m: ArrayLike,
    front_driven: ArrayLike,
    rider_force_n: ArrayLike = 0.0,
) -> FloatArray:
    """Most force the driven tyre can pass to the road, its own load transfer included.

    Rear: ``F = μ W (L − b) / (L − μ h)``, without limit where μh ≥ L (the front wheel lifts
    first). Front: ``F = μ (W b − F_rider h) / (L + μ h)``, the rider driving the rear wheel.

    Args:
        weight_n: weight across the road, ``m g cos θ``, N, any shape.
        grip: most force over load of the driven tyre.
        wheelbase_m: L, m; NaN where unknown.
        cg_height_m: h, m; NaN counts as 0, which leaves the load as it is at rest.
        cg_to_rear_axle_m: b, m; NaN where unknown.
        front_driven: above 0 where the motor drives the front wheel.
        rider_force_n: force of the rider's pedalling on the rear wheel, N.

    Returns:
        Force of the motor at the rim, N, at least 0; infinite where wheelbase or position of the
        centre of gravity is unknown.
    """
    w, mu, base, ahead, rider = (
        np.asarray(x, dtype=float)
        for x in (weight_n, grip, wheelbase_m, cg_to_rear_axle_m, rider_force_n)
    )
    height = np.nan_to_num(np.asarray(cg_height_m, dtype=float))
    room = base - mu * height
    with np.errstate(divide="ignore", invalid="ignore"):
        rear = np.where(room > 0, mu * w * (base - ahead) / room, np.inf) - rider
        front = mu * (w * ahead - rider * height) / (base + mu * height)
    force = np.where(np.asarray(front_driven) > 0, front, rear)
    known = ~np.isnan(base) & ~np.isnan(ahead)
    return np.asarray(np.where(known, np.maximum(force, 0.0), np.inf))


def lift_force(
    weight_n: ArrayLike,
    cg_height_m: ArrayLike,
    cg_to_rear_axle_m: ArrayLike,
    front_driven: ArrayLike,
    rider_force_n: ArrayLike = 0.0,
) -> FloatArray:
    """Force at which the front wheel leaves the ground, ``W b / h``.

    Args:
        weight_n: weight across the road, ``m g cos θ``, N, any shape.
        cg_height_m: h, m; NaN where unknown.
        cg_to_rear_axle_m: b, m; NaN where unknown.
        front_driven: above 0 where the motor drives the front wheel; driving then presses the
            undriven wheel down, and there is no limit.
        rider_force_n: force of the rider's pedalling on the rear wheel, N.

    Returns:
        Force of the motor at the rim, N, at least 0; infinite where there is no limit.
    """
    w, height, ahead, rider = (
        np.asarray(x, dtype=float)
        for x in (weight_n, cg_height_m, cg_to_rear_axle_m, rider_force_n)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        force = np.maximum(w * ahead / height - rider, 0.0)
    limited = (height > 0) & ~np.isnan(ahead) & (np.asarray(front_driven) <= 0)
    return np.asarray(np.where(limited, force, np.inf))
