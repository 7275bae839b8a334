"""What the motor does to the pack and the controller when the drive goes off at speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array
from curves.parts.rig import Rig
from curves.point.drive_off import DIODE_V, back_emf, generation, speed_at_emf
from curves.setups.stack import Stack, stack
from curves.steady.balance import TopSpeed, top_speed


@dataclass(frozen=True)
class DriveOff:
    """Speeds at which a drive that goes off does harm, and what happens at top speed.

    SI; arrays of shape (setups,). For the coldest magnet of the conditions, with most flux: as
    warm as the setup says or as the air, whichever gives more. Estimates of
    the most, see ``curves.point.drive_off.TOLERANCE``.

    Attributes:
        names: Name of each setup.
        magnet_c: Magnet temperature used, degrees Celsius.
        starts: Road speed above which the diodes charge the pack and brake, m/s.
        exceeds_rating: Road speed above which the back-EMF passes the controller's rated input
            volts, should the pack disconnect or refuse charge, m/s; NaN where no rating is given.
        top_speed: m/s; NaN where the bike cannot start, and with it all that follows.
        rotor_speed: At top speed, rad/s; behind a clutch no more than the motor itself drives.
        emf_v: Line-to-line peak back-EMF at top speed, V.
        margin_v: Open-circuit volts of the pack and two diode drops less that back-EMF, V:
            negative where top speed is above ``starts``.
        rating_margin_v: Rated input volts less that back-EMF, V; NaN where no rating is given.
        brake_torque: What the diodes brake with at top speed, at the rotor, N m, zero or more.
        brake_force: The same at the rim, N; zero with a clutch, which lets the wheel run on.
        charging_current: Mean current into the pack then, A, zero or more.
        pack_voltage: Of the pack so charged, V.
        heat: Copper loss then, W.
        lasts: False behind an overrunning clutch: it ends once the rotor has slowed.
    """

    names: tuple[str, ...]
    magnet_c: Array
    starts: Array
    exceeds_rating: Array
    top_speed: Array
    rotor_speed: Array
    emf_v: Array
    margin_v: Array
    rating_margin_v: Array
    brake_torque: Array
    brake_force: Array
    charging_current: Array
    pack_voltage: Array
    heat: Array
    lasts: NDArray[np.bool_]


def drive_off(rigs: Sequence[Rig], top: TopSpeed | None = None) -> DriveOff:
    """The drive going off, for every setup.

    Args:
        rigs: The setups, as ``Job.rigs`` gives them.
        top: Their top speeds, if they are at hand.
    """
    return stack_drive_off(stack(rigs), top_speed(rigs) if top is None else top)


def stack_drive_off(s: Stack, top: TopSpeed) -> DriveOff:
    """The drive going off, for a stack of setups; see ``DriveOff``.

    Args:
        s: The setups.
        top: Their top speeds.
    """
    b = s.batch()
    _, magnet_c = s.coldest_flux()
    d = b.drive._replace(flux=b.cold_flux)
    conducts = b.drive.open_circuit_v + 2 * DIODE_V
    rated = s.of("controller.max_input_v", np.nan)
    # Rotor speed at top speed, in the gear that is then in use; the tallest where there is none.
    rotor = speed_at_emf(b.drive, top.drive_off_emf_v[:, None])[:, 0]
    moving = top.speed > 0
    through = np.where(
        moving, rotor / np.where(moving, top.speed, 1.0), b.ratio[:, 0] / b.radius[:, 0]
    )
    clutch = b.clutch[:, 0] > 0
    # Behind a freewheel the rotor is never turned faster than it drives itself.
    free = np.fmin(rotor, top.no_load_speed * b.ratio[:, 0] / b.radius[:, 0])
    rotor = np.where(clutch, free, rotor)
    emf = back_emf(d, rotor[:, None])[:, 0]
    dead = np.isnan(top.speed)
    made = generation(d, np.where(dead, 0.0, rotor)[:, None])
    length = np.hypot(made.current_d, made.current_q)
    torque = 0.0 - made.torque[:, 0]

    def known(x: Array) -> Array:
        return np.where(dead, np.nan, x)

    return DriveOff(
        names=s.names,
        magnet_c=magnet_c,
        starts=speed_at_emf(d, conducts)[:, 0] / through,
        exceeds_rating=speed_at_emf(d, rated[:, None])[:, 0] / through,
        top_speed=top.speed,
        rotor_speed=rotor,
        emf_v=emf,
        margin_v=conducts[:, 0] - emf,
        rating_margin_v=rated - emf,
        brake_torque=known(torque),
        brake_force=known(np.where(clutch, 0.0, torque * through / b.efficiency[:, 0])),
        charging_current=known(made.pack_current[:, 0]),
        pack_voltage=known(made.bridge_v[:, 0] - 2 * DIODE_V),
        heat=known((1.5 * d.resistance * length * length)[:, 0]),
        lasts=~clutch,
    )
