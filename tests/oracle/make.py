"""Write the oracle's answers for random jobs beside this file: ``python -m tests.oracle.make``.

The tests read them, and have the oracle answer one of the jobs anew.
"""

import json
import random
from pathlib import Path

import numpy as np

from tests.oracle import job as oracle
from tests.oracle.random_jobs import job as random_job

ANSWERS = Path(__file__).with_name("answers.json")
JOBS = 64
SPEEDS = 6
SEED = 20
BLOCK = 16


def trees(count=JOBS):
    """The jobs, of one to three setups."""
    rng = random.Random(SEED)
    return [random_job(rng, rng.choice([1, 1, 2, 3])) for _ in range(count)]


def answers(some):
    """What the oracle says of some jobs: a dictionary for each setup, in their order."""
    r = oracle.setups(some)
    nothing = oracle.no_load(r)
    base = oracle.base(r, nothing)
    speed, said, coasting, at_end = oracle.top_speed(r, nothing)
    gain, doubt = oracle.gains(r, speed, nothing, coasting, at_end)
    none = nothing * r["radius"] / r["ratios"][:, 0]
    drawn = oracle.draw(r, np.nan_to_num(speed))
    emf = np.sqrt(3) * r["p"] * r["lam"] * drawn["w"] + 0 * speed
    n = nothing.size
    kmh = _speeds(r, none, speed)
    many = {name: np.repeat(x, SPEEDS, axis=0) for name, x in r.items()}
    columns = oracle.curves(many, kmh.ravel())
    held = columns.pop("limited_by")
    out = []
    for k in range(n):
        at = slice(k * SPEEDS, (k + 1) * SPEEDS)
        out.append(
            {
                "speed_kmh": kmh[k].tolist(),
                "curves": {name: _plain(x[at]) for name, x in columns.items()},
                "surely": held[0][at],
                "perhaps": held[1][at],
                "no_load_speed_kmh": _plain(none[k] / oracle.KMH),
                "base_speed_kmh": _plain(
                    base[k] * r["radius"][k] / r["ratios"][k, -1] / oracle.KMH
                ),
                "top_speed_kmh": _plain(speed[k] / oracle.KMH),
                "top_surely": said[0][k],
                "top_perhaps": said[1][k],
                "drive_off_emf_v": _plain(emf[k]),
                "gain_per_unit": {name: _plain(x[k]) for name, x in gain.items()},
                "gain_doubt": {name: _plain(x[k], 2) for name, x in doubt.items()},
                # At the motor's own end differences across it say nothing.
                "spent": bool(abs(speed[k] - none[k]) <= 1e-9 * none[k]),
            }
        )
    return out


def _speeds(r, none, speed):
    """Standstill, the speed cap if there is one, and speeds up to a tenth past what is driven."""
    end = np.where(np.isnan(none), np.where(np.isnan(speed), 10, 1.2 * speed), none)
    end = np.minimum(np.where(end > 0, end, 10), 60) / oracle.KMH
    share = np.array([0, 0.13, 0.41, 0.67, 0.88, 1.07])
    kmh = np.asarray(end[:, None] * share, dtype=float)
    # Speeds of the file's own precision, so that both sides read the same.
    kmh = np.round(kmh, 6)
    capped = np.isfinite(r["cap_v"])
    kmh[capped, 3] = np.asarray(r["cap_v"][capped] / oracle.KMH, dtype=float)
    return kmh


def _plain(x, digits=10):
    if np.ndim(x):
        return [_plain(y, digits) for y in x]
    return float(f"{float(x):.{digits}g}") if np.isfinite(x) else None


def main():
    every = trees()
    found = []
    for start in range(0, JOBS, BLOCK):
        found += answers(every[start : start + BLOCK])
        print(f"{start + BLOCK} of {JOBS} jobs", flush=True)
    lines = ",\n".join(json.dumps(x, separators=(",", ":")) for x in found)
    ANSWERS.write_text(f"[\n{lines}\n]\n", encoding="utf-8")


if __name__ == "__main__":
    main()
