"""A rig: a setup with its parts in hand."""

from __future__ import annotations

from dataclasses import dataclass, replace

from curves.parts.bike import Bike
from curves.parts.conditions import Conditions
from curves.parts.controller import Controller
from curves.parts.motor import Motor
from curves.parts.pack import Pack
from curves.parts.tune import Tune


@dataclass(frozen=True)
class Rig:
    """Everything a result about one setup needs.

    Args:
        name: the setup's name.
        motor: motor.
        controller: controller, ideal where the setup names none.
        pack: pack.
        tune: limits.
        bike: bike, rider and load.
        conditions: road and air.
        state_of_charge: 0 to 1; a source pack ignores it.
        winding_c: winding temperature, °C.
        magnet_c: magnet temperature, °C.

    >>> from curves import load_job
    >>> load_job().rig("13 cells").pack.series
    13
    """

    name: str
    motor: Motor
    controller: Controller
    pack: Pack
    tune: Tune
    bike: Bike
    conditions: Conditions
    state_of_charge: float
    winding_c: float
    magnet_c: float

    @property
    def mass_kg(self) -> float:
        """Bike, pack, rider and load, kg."""
        bike = self.bike
        return bike.bike_mass_kg + self.pack.mass_kg + bike.rider_kg + bike.load_kg

    def on_grade(self, percent: float) -> Rig:
        """The same setup on another slope.

        Args:
            percent: Slope, rise over run, %.
        """
        return replace(
            self, conditions=self.conditions.model_copy(update={"grade_percent": percent})
        )
