"""How the state of a setup moves: charge out of the pack, heat through the motor.

Two nodes: copper loss heats the winding, no-load loss the case; heat flows from winding to case
and from case to air, the better the faster the bike. The winding's resistance follows the winding,
the magnets' flux follows the case.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.numerics.roots import Array, Index
from curves.setups.batch import Batch
from curves.setups.stack import Stack
from curves.units import AMPERE_HOUR

HOTTEST_C = 400.0
"""Nothing is followed past this winding temperature, °C: no insulation lasts there."""
COLDEST_C = -60.0


class Thermal(NamedTuple):
    """The motor's way of getting rid of heat; arrays of shape (setups,), NaN where not given.

    Attributes:
        winding_heat: J/K.
        case_heat: J/K.
        winding_to_case: W/K.
        case_to_air: W/K at rest.
        case_to_air_per_speed: W/K per m/s.
        air_c: °C.
        limit_c: Temperature the winding may reach, °C; infinite where not given.
        magnet_limit_c: Temperature the magnets may reach, °C; infinite where not given.
    """

    winding_heat: Array
    case_heat: Array
    winding_to_case: Array
    case_to_air: Array
    case_to_air_per_speed: Array
    air_c: Array
    limit_c: Array
    magnet_limit_c: Array

    @property
    def known(self) -> NDArray[np.bool_]:
        """Where all that is needed is given, shape (setups,)."""
        return np.asarray(~np.isnan(np.stack(self[:5])).any(axis=0))

    def to_air(self, speed: Array) -> Array:
        """Heat flow from case to air, W/K, at road speeds in m/s."""
        return self.case_to_air + self.case_to_air_per_speed * np.abs(speed)

    def rates(
        self, speed: Array, winding_w: Array, case_w: Array, winding_c: Array, case_c: Array
    ) -> tuple[Array, Array]:
        """Rise of winding and case, K/s; zero where nothing is known.

        Args:
            speed: Road speed, m/s, shape (setups,), as the rest.
            winding_w: Copper loss, W.
            case_w: No-load loss, W.
            winding_c: °C.
            case_c: °C.
        """
        inward = self.winding_to_case * (winding_c - case_c)
        outward = self.to_air(speed) * (case_c - self.air_c)
        winding = (winding_w - inward) / self.winding_heat
        case = (inward + case_w - outward) / self.case_heat
        return np.where(self.known, winding, 0.0), np.where(self.known, case, 0.0)

    def jacobian(self, speed: Array) -> Array:
        """Growth of both rates with both temperatures, per s, shape (2, 2, setups); losses held."""
        inner, none = self.winding_to_case, np.zeros_like(self.winding_to_case)
        winding = np.stack((-inner, inner)) / self.winding_heat
        case = np.stack((inner, -(inner + self.to_air(speed)))) / self.case_heat
        return np.where(self.known, np.stack((winding, case)), none)


def thermal(stacked: Stack) -> Thermal:
    """The thermal values of a stack.

    Args:
        stacked: The setups; air temperature is that of their conditions.
    """
    values = stacked.values
    return Thermal(
        winding_heat=values["motor.winding_heat_j_per_k"],
        case_heat=values["motor.case_heat_j_per_k"],
        winding_to_case=values["motor.winding_to_case_w_per_k"],
        case_to_air=values["motor.case_to_air_w_per_k"],
        case_to_air_per_speed=values["motor.case_to_air_w_per_k_per_m_s"],
        air_c=stacked.of("conditions.air_c"),
        limit_c=stacked.of("motor.winding_limit_c", np.inf),
        magnet_limit_c=stacked.of("motor.magnet_limit_c", np.inf),
    )


def capacity(stacked: Stack) -> Array:
    """Charge of a full pack, C, shape (setups,); infinite for a source pack, NaN if not given."""
    cells = stacked.of("pack.parallel") * stacked.values["pack.cell_capacity_ah"] * AMPERE_HOUR
    return np.where(np.isnan(stacked.values["pack.cell"]), np.inf, cells)


def at_state(stacked: Stack, charge: Array, winding_c: Array, case_c: Array) -> Batch:
    """The setups in another state, for the solver.

    Args:
        stacked: The setups.
        charge: State of charge, held within 0 and 1, shape (setups,), as the rest.
        winding_c: °C, held between ``COLDEST_C`` and ``hottest``.
        case_c: Of case and magnets, °C, held there too.
    """
    most = hottest(stacked)
    own = {name: stacked.values[f"setup.{name}"] for name in ("winding_c", "magnet_c")}
    # A trial step of an integration may ask for what no motor ever is.
    state = {
        "setup.state_of_charge": np.clip(charge, 0.0, 1.0),
        "setup.winding_c": np.clip(winding_c, np.minimum(own["winding_c"], COLDEST_C), most),
        "setup.magnet_c": np.clip(case_c, np.minimum(own["magnet_c"], COLDEST_C), most),
    }
    # Faster than ``vary``, which broadcasts every field; this is called at every step of a ride.
    return replace(stacked, values={**stacked.values, **state}).batch()


def hottest(stacked: Stack) -> Array:
    """Temperature up to which a motor is followed, °C, shape (setups,).

    It is ``HOTTEST_C``, less where the magnets would have lost nine tenths of their flux before,
    and never below the state the setup is asked in.

    Args:
        stacked: The setups.
    """
    loss = np.maximum(-stacked.of("motor.magnet_coefficient_per_k"), 1e-6)
    own = np.maximum(stacked.values["setup.winding_c"], stacked.values["setup.magnet_c"])
    return np.maximum(np.minimum(HOTTEST_C, 20 + 0.9 / loss), own)


def rows(stacked: Stack, at: Index) -> Stack:
    """Some of the setups, each as often as it is named.

    Args:
        stacked: The setups.
        at: Their positions, shape (n,).
    """
    return replace(
        stacked,
        names=tuple(stacked.names[k] for k in at),
        values={name: x[at] for name, x in stacked.values.items()},
        ratios=stacked.ratios[at],
        derating=stacked.derating[:, at],
    )
