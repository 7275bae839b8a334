"""Whole setups a second: envelope, top speed and three splits, together and one at a time.

Nothing here asserts a time. What is asserted is that both ways answer alike.
"""

from time import perf_counter

import numpy as np
import pytest

from curves.parts.job import load_job
from curves.setups.stack import stack
from curves.studies.common import pick
from curves.studies.results import results_of
from curves.studies.search import Span, search

RIG = "13 cells, weakened"
MANY = 10_000
FEW = 40
RESULTS = (
    "top_speed_kmh",
    "peak_pack_a",
    "peak_phase_a",
    "time_to_20mph_s",
    "time_to_30mph_s",
    "time_to_660ft_s",
)
"""The currents are the most over an envelope of 25 speeds."""


def test_setups_of_a_search(benchmark, note):
    rig = load_job().rig(RIG)
    steps = (10, 10, 10, 10)
    ranges = {
        "tune.pack_current_a": (15.0, 50.0),
        "tune.power_cap_w": (800.0, 3000.0),
        "tune.field_weakening_a": (0.0, 30.0),
        "tune.phase_current_a": (40.0, 90.0),
    }
    spans = [
        Span(field, tuple(np.linspace(*ends, n)))
        for (field, ends), n in zip(ranges.items(), steps, strict=True)
    ]
    found = []

    def every() -> None:
        found[:] = [search([rig], spans, (), RESULTS[:1], also=RESULTS[1:], budget=MANY)]

    benchmark.pedantic(every, rounds=3)
    seconds = benchmark.stats.stats.median
    rows = np.linspace(0, MANY - 1, FEW).astype(np.intp)
    values = found[0].values
    changes = dict(zip(ranges, values[rows].T, strict=True))
    some = stack([rig]).vary(changes)
    start = perf_counter()
    alone = np.concatenate([results_of(pick(some, np.array([k])), RESULTS) for k in range(FEW)])
    one = (perf_counter() - start) / FEW
    benchmark.extra_info["times as fast"] = one * MANY / seconds
    note(
        f"{MANY:,} setups: envelope, top speed, three splits",
        f"{seconds:.1f} s, {one * MANY / seconds:,.0f} times as fast",
        f"as one at a time ({one * 1e3:.0f} ms each); search over {MANY:,}, processes included",
    )
    assert len(values) == MANY
    # Batches of different sizes take their roots by different steps.
    assert found[0].outcome[rows] == pytest.approx(alone, rel=1e-6, nan_ok=True)
