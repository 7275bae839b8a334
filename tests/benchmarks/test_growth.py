"""How time grows from a hundred points to ten million, and the memory it takes."""

import subprocess
import sys

import numpy as np
import pytest

from curves.point.solve import operating_point
from tests.benchmarks import cases

SIZES = [10**k for k in range(2, 8)]
PEAK = """
import sys
from curves.point.solve import operating_point
from tests.benchmarks import cases

def peak():
    # Of this process alone: what getrusage gives begins with the parent's.
    with open("/proc/self/status") as status:
        return next(int(x.split()[1]) / 1e3 for x in status if x.startswith("VmHWM"))

d, speed = cases.batch(sys.argv[1], int(sys.argv[2]))
before = peak()
operating_point(d, speed)
print(before, peak())
"""


@pytest.mark.parametrize("points", SIZES)
@pytest.mark.parametrize("motor", cases.MOTORS)
def test_growth(motor, points, benchmark, largest, note):
    if points > largest:
        pytest.skip(f"--largest {points:.0e} times this batch")
    d, speed = cases.batch(motor, points)
    rounds = max(1, min(20, 2_000_000 // points))
    found = benchmark.pedantic(
        operating_point, (d, speed), rounds=rounds, warmup_rounds=int(rounds > 1)
    )
    took = benchmark.stats.stats.median
    driven, weakened = ~np.isnan(found.torque), found.current_d < -1e-9
    assert driven.mean() > 0.5
    assert weakened.mean() > 0.1
    benchmark.extra_info["points per second"] = points / took
    note(
        f"{points:,} points, {motor}",
        f"{points / took:,.0f} points a second",
        f"{took * 1e3:,.4g} ms, {driven.mean():.0%} driven, {weakened.mean():.0%} with d current",
    )


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_peak_memory(largest, note):
    run = subprocess.run(
        [sys.executable, "-c", PEAK, cases.MOTORS[1], str(largest)],
        check=True,
        capture_output=True,
        text=True,
    )
    before, peak = map(float, run.stdout.split())
    note(
        f"{largest:,} points, memory",
        f"{peak:,.0f} MB at the peak",
        f"of which {before:,.0f} MB before the call (Python, NumPy, the speeds); "
        f"{largest * 24 / 1e6:,.0f} MB are the results",
    )
    # The goal at ten million points; blocks must not add up.
    assert peak < 500
