"""Heat: what a hill, a steady speed or a map of both do to the motor."""

from curves.motion.heat.hills import HillClimb, hill
from curves.motion.heat.readings import Improved, Reading, improved_heat
from curves.motion.heat.settling import HeatMap, Settled, heat_map, settled
from curves.motion.heat.warming import Warming, time_to_limit

__all__ = [
    "HeatMap",
    "HillClimb",
    "Improved",
    "Reading",
    "Settled",
    "Warming",
    "heat_map",
    "hill",
    "improved_heat",
    "settled",
    "time_to_limit",
]
