"""The speed a run comes to, followed while charge and temperatures move."""

from dataclasses import replace

import numpy as np
import pytest

from curves import load_job, load_profile
from curves.motion.runs import coupled_runs
from curves.motion.runs import ending as endings
from curves.motion.runs.ending import end_speed
from curves.setups.stack import stack


def rigs(kind):
    """Setups that end where force meets road load, at a ceiling of the rotor, or rolling."""
    chosen = load_job(None).rigs()
    if kind == "ceiling":
        motor = load_profile("demo-mid-drive")
        return [replace(r, motor=motor) for r in chosen]
    return [r.on_grade(-6.0) for r in chosen] if kind == "rolling" else chosen


@pytest.mark.parametrize("kind", ["road", "ceiling", "rolling"])
@pytest.mark.parametrize("off", [0.0, 1e-6, -3e-4, 0.2, np.nan])
def test_the_end_followed_is_the_end_looked_for(kind, off):
    b = stack(rigs(kind)).batch()
    fresh = end_speed(b)
    assert np.all(fresh > 2)
    # Both find where force meets road load to a few parts in 1e14 (1e-12 where they cross flat).
    np.testing.assert_allclose(end_speed(b, fresh * (1 + off)), fresh, rtol=1e-12)


def test_a_settled_run_looks_for_its_end_once(monkeypatch):
    asked = []

    def counted(b):
        asked.append(b.size)
        return no_load_speed(b)

    no_load_speed = endings.no_load_speed
    monkeypatch.setattr(endings, "no_load_speed", counted)
    run = coupled_runs(rigs("ceiling"))
    assert run.ride.settled.any()
    # Once a stretch, not at each of hundreds of steps.
    assert 0 < len(asked) <= len(run.ride.stretches)
