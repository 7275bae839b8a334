"""A hundred megabytes of CSV: read in memory that its length does not touch."""

import subprocess
import sys
import time

import pytest

READ = """
import sys, time
from curves.measured.logs import read_log

def peak():
    with open("/proc/self/status") as status:
        return next(int(x.split()[1]) / 1e3 for x in status if x.startswith("VmHWM"))

before, start = peak(), time.perf_counter()
log = read_log(sys.argv[1])
print(before, peak(), time.perf_counter() - start, log.lines, log.time.size)
"""
MOST_MB = 150
"""Above what Python and NumPy take before: twice ``thinning.KEEP`` samples of four columns and
their time are 16 MB, and as much again while they are joined; the rest is for a chunk of lines."""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_a_hundred_megabytes(tmp_path, note):
    log = tmp_path / "long.csv"
    with log.open("w", encoding="ascii") as file:
        file.write("time_ms,speed_kmh,battery_v,battery_a\n")
        k = 0
        while file.tell() < 100_000_000:
            rows = (f"{j},{j % 400 / 10:.2f},{67 - j % 50 / 10:.2f},{j % 300 / 10:.1f}\n"
                    for j in range(k, k + 50_000))  # fmt: skip
            file.writelines(rows)
            k += 50_000
    size, started = log.stat().st_size / 1e6, time.perf_counter()
    run = subprocess.run(
        [sys.executable, "-c", READ, str(log)], check=True, capture_output=True, text=True
    )
    before, peak, took, lines, samples = map(float, run.stdout.split())
    note(
        f"{size:.0f} MB of CSV, {lines:,.0f} lines",
        f"{peak - before:.0f} MB more at the peak, {took:.1f} s",
        f"{samples:,.0f} samples kept; {time.perf_counter() - started:.1f} s with start-up",
    )
    assert lines == k
    assert peak - before < MOST_MB
