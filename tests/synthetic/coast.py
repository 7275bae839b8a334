"""Stop-watch times of the demo's bike coasting on a known road, in a known wind.

``python -m tests.synthetic.coast > curves/demo/coast-down.toml`` writes the demo's times.
"""

import numpy as np

from curves import load_job
from curves.measured.coasts import rolled_of
from curves.measured.rolling import STANDARD_DENSITY, interval_time
from curves.parts.conditions import GRAVITY
from curves.units import KMH
from tests.synthetic.runs import DEMO_SETUP, DEMO_TRUTH

WIND, GRADE = 1.2, 0.001
THUMB_S = 0.08
"""Standard deviation of a thumb on a stop-watch."""
INTERVALS = ((40, 30), (35, 25), (30, 20), (25, 15), (20, 10))
WAYS = {"out": 1.0, "back": -1.0}


def times(rng, rig=None):
    """Rows of direction, from km/h, to km/h and seconds; each interval twice each way."""
    rolled = rolled_of(rig or load_job().rig(DEMO_SETUP))
    f0 = DEMO_TRUTH["bike__rolling_coefficient"] * rolled.mass * GRAVITY
    f2 = DEMO_TRUTH["bike__drag_area_m2"] * STANDARD_DENSITY / 2
    truth = np.array([[f0, 0.0, f2, WIND, GRADE]])
    high, low = np.array(INTERVALS, dtype=float).T
    for way, sign in WAYS.items():
        exact = interval_time(truth, rolled, high * KMH, low * KMH, np.full(high.size, sign))[0]
        for _ in range(2):
            read = exact + THUMB_S * rng.standard_normal(high.size)
            yield from (
                (way, v, w, round(float(t), 2)) for (v, w), t in zip(INTERVALS, read, strict=True)
            )


def text(rng):
    """The demo's file."""
    rows = "\n".join(
        f'    {{ direction = "{way}", from_kmh = {v}, to_kmh = {w}, seconds = {t} }},'
        for way, v, w, t in times(rng)
    )
    return f"""# Stop-watch times of a bike that coasts, for `rimforce coast-down`. The bike is the
# demo job's with 16 cells, invented, and so are they: a program that knows the answer wrote them.

format = "rimforce-bench-1"
title = "The demo's cargo bike coasting, both ways along one road"

# Drive off, rider still; both ways, so that wind and slope can be told from the bike.
coast_down = [
{rows}
]

# Bike, pack, rider and load on a scale; the day's air.
[coast_bike]
mass_kg = {load_job().rig(DEMO_SETUP).mass_kg:.1f}
air_c = 18.0
"""


if __name__ == "__main__":
    print(text(np.random.default_rng(11)), end="")
