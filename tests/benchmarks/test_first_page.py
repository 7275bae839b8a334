"""What the first page waits for: the program starting, and the envelopes of eight setups.

Nothing here asserts a time.
"""

import subprocess
import sys
from time import process_time

import numpy as np

from curves.parts.job import load_job
from curves.setups.stack import stack
from curves.steady.envelope import batch_envelope
from curves.units import KMH

SETUPS, SPEEDS, ROUNDS = 8, 400, 30
START = "import time; a = time.process_time(); from curves import *; print(time.process_time() - a)"


def processor(call, rounds):
    """Least processor time of a call, s."""
    took = []
    for _ in range(rounds):
        start = process_time()
        call()
        took.append(process_time() - start)
    return min(took)


def test_envelopes_of_eight_setups(benchmark, note):
    rigs = load_job().rigs()
    some = stack([rigs[k % len(rigs)] for k in range(SETUPS)])
    batch = some.vary({"motor.kv_rpm_per_v": np.linspace(7.5, 9.0, SETUPS)}).batch()
    speed = np.linspace(0.0, 60.0 * KMH, SPEEDS)

    def every():
        return batch_envelope(batch, some.names, speed)

    found = benchmark.pedantic(every, rounds=ROUNDS, warmup_rounds=1)
    note(
        f"{SETUPS} setups x {SPEEDS} speeds, envelope with base and no-load speed",
        f"{benchmark.stats.stats.median * 1e3:.0f} ms",
        f"{processor(every, ROUNDS) * 1e3:.0f} ms of processor time at best",
    )
    assert found.torque.shape == (SETUPS, SPEEDS)


def test_start(benchmark, note):
    took = []

    def start():
        run = subprocess.run(
            [sys.executable, "-c", START], check=True, capture_output=True, text=True
        )
        took.append(float(run.stdout))

    benchmark.pedantic(start, rounds=5, warmup_rounds=1)
    note(
        "import curves",
        f"{benchmark.stats.stats.median * 1e3:.0f} ms with Python itself",
        f"{min(took) * 1e3:.0f} ms of processor time at best for the import alone",
    )
