"""A thousand setups through all splits by quadrature, and the hill of a whole job.

Nothing here asserts a time. What is asserted is that a batch answers as single setups do.
"""

import numpy as np
import pytest

from curves.motion.heat import hill
from curves.motion.runs import Targets, timed_runs
from curves.parts.job import load_job
from curves.setups.stack import stack
from curves.units import FOOT, KMH, MPH, PERCENT

RIG = "13 cells, weakened"
MANY = 1000
SPLITS = Targets((20 * MPH, 30 * MPH), (60 * FOOT, 660 * FOOT, 1320 * FOOT))


def varied():
    """Setups of many powers, currents and masses."""
    random = np.random.default_rng(7).uniform
    return stack([load_job().rig(RIG)]).vary(
        {
            "tune.pack_current_a": random(15.0, 50.0, MANY),
            "tune.power_cap_w": random(800.0, 3000.0, MANY),
            "tune.phase_current_a": random(40.0, 90.0, MANY),
            "bike.load_kg": random(0.0, 60.0, MANY),
        }
    )


def test_all_splits_of_a_thousand_setups(benchmark, note):
    setups, found = varied(), []

    def every() -> None:
        found[:] = [timed_runs(setups, SPLITS)]

    benchmark.pedantic(every, rounds=5, warmup_rounds=1)
    took, best = benchmark.stats.stats.median, benchmark.stats.stats.min
    splits = MANY * (len(SPLITS.speeds) + len(SPLITS.distances))
    reached = np.isfinite(found[0].distance_time).mean()
    note(
        f"{MANY:,} setups, five splits with trap speeds, by quadrature",
        f"{took:.2f} s",
        f"{best:.2f} s at best; {splits / took:,.0f} splits a second, {reached:.0%} got the "
        "distances",
    )
    few = np.arange(0, MANY, 250)
    values = {name: setups.values[name][few] for name in setups.values}
    alone = timed_runs(stack([load_job().rig(RIG)] * few.size).vary(values), SPLITS)
    assert found[0].distance_time[few] == pytest.approx(alone.distance_time, rel=1e-6)


def test_the_hill_of_the_demonstration(benchmark, note):
    job, found = load_job(), []
    rigs, goal = job.rigs(), job.goals.hill
    asked = (goal.grade_percent * PERCENT, goal.length_m, goal.speed_kmh * KMH)

    def climb() -> None:
        found[:] = [hill(rigs, *asked)]

    benchmark.pedantic(climb, rounds=3, warmup_rounds=1)
    took = benchmark.stats.stats.median
    note(
        f"the hill with {len(rigs)} setups, its band from 5 to 95 % included",
        f"{took:.2f} s",
        "each with every input that states a tolerance moved up and down",
    )
    assert found[0].longest[0] == pytest.approx(hill(rigs[:1], *asked).longest[0], rel=1e-6)
