"""How often intervals of fits hold a known truth: runs by the seed, and what fits find."""

import dataclasses

import numpy as np

from curves.measured.fit import fit
from curves.measured.measured_run import Run
from tests.synthetic import runs as synthetic
from tests.synthetic.together import fits

TRUTH = {"bike__drag_area_m2": 0.62, "bike__rolling_coefficient": 0.0125}
PACK_TRUTH = {"bike__drag_area_m2": 0.65, "pack__cell_resistance_mohm": 34.0}


def exact(job, setup=synthetic.DEMO_SETUP, seconds=30.0, rate=5, **changes):
    """A run without noise."""
    time, speed, _, volts, amperes = synthetic.truth(job.rig(setup), seconds, **changes)
    every = round(1 / (rate * synthetic.STEP))
    return Run(setup, setup, *(x[::every] for x in (time, speed, volts, amperes)))


def noisy(run, seed, before=0.0, **options):
    """The same as a GPS logger and a battery monitor see it."""
    rng = np.random.default_rng(seed)
    options = {"rate": 5.0, **options}
    t, v = synthetic.gps(rng, run.time, run.speed, before=before, **options)
    volts = np.interp(t, run.time, run.volts) + 0.05 * rng.standard_normal(t.size)
    amperes = np.interp(t, run.time, run.amperes) + 0.2 * rng.standard_normal(t.size)
    return dataclasses.replace(
        run, time=t, speed=v, volts=np.round(volts, 2), amperes=np.round(amperes, 1)
    )


def counted(found, truth):
    """In how many fits each parameter's interval holds the truth."""
    low, high = (np.array([getattr(one, end) for one in found]) for end in ("low", "high"))
    return ((low <= truth) & (truth <= high)).sum(axis=0)


def road_load(job, monkeypatch, seeds):
    """Fits of drag area and rolling resistance to speed alone, one a seed."""
    run = exact(job, **TRUTH)
    runs = [
        dataclasses.replace(noisy(run, seed, spikes=1), volts=None, amperes=None)
        for seed in range(seeds)
    ]
    move = ["drag-area", "rolling"]
    return fits(monkeypatch, [lambda r=r: fit(job, [r], move, draws=0) for r in runs])


def two_setups(job, monkeypatch, seeds):
    """Fits of drag area and both packs' resistance to speed, volts and amperes of two runs."""
    runs = [exact(job, setup, 20.0, **PACK_TRUTH) for setup in ("13 cells", "16 cells")]
    move = ["drag-area", "pack-resistance"]
    every = [
        [noisy(run, 1000 * k + seed, rate=2.0) for k, run in enumerate(runs)]
        for seed in range(seeds)
    ]
    return fits(monkeypatch, [lambda two=two: fit(job, two, move, draws=0) for two in every])
