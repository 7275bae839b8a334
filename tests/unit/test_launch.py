"""Where runs begin, and splits from noisy logs: found within their stated uncertainty."""

import io

import numpy as np
import pytest

from curves import JobError, load_job
from curves.measured.launch import launches
from curves.measured.logs import read_log
from curves.measured.measured_run import averaged, runs_in
from curves.measured.splits import measured_splits
from curves.motion.runs import Targets, timed_runs
from curves.units import FOOT
from tests.synthetic import runs as synthetic

SEEDS = 20
TARGETS = Targets(speeds=(5.0, 8.0), distances=(18.288, 100.0, 201.168))


@pytest.fixture(scope="module")
def rig():
    return load_job().rig("16 cells")


@pytest.fixture(scope="module")
def ridden(rig):
    return synthetic.truth(rig, 32.0)


RATES = {
    1: {"sigma": 0.08, "memory": 0.8},
    5: {"sigma": 0.08, "memory": 0.8},
    18: {"sigma": 0.05, "memory": 0.5},
    100: {"sigma": 0.0, "memory": 1.0, "white": 0.05},
}


@pytest.mark.parametrize(("rate", "roll_out"), [(1, 0.0), (5, FOOT), (18, 0.0), (100, FOOT)])
def test_splits_lie_within_their_uncertainty(rig, ridden, rate, roll_out, capsys):
    asked = Targets(TARGETS.speeds, TARGETS.distances, roll_out)
    exact = timed_runs([rig], asked)
    truth = np.concatenate((exact.speed_time[0], exact.distance_time[0], exact.distance_speed[0]))
    inside = np.zeros(truth.size)
    wide = np.zeros(truth.size)
    for seed in range(SEEDS):
        rng = np.random.default_rng(seed)
        t, v = synthetic.gps(rng, ridden[0], ridden[1], rate=rate, **RATES[rate])
        (launch,) = launches(t, v)
        found = measured_splits(t, v, launch, asked)
        values = np.concatenate((found.speed_time, found.distance_time, found.distance_speed))
        spread = np.concatenate((found.speed_time_u, found.distance_time_u, found.distance_speed_u))
        inside += np.abs(values - truth) <= 2 * spread
        wide += spread / SEEDS
    with capsys.disabled():
        print(f"\nsplits at {rate} Hz, roll-out {roll_out:.2f} m: {inside.sum() / SEEDS / 8:.1%}")
    assert inside.sum() >= 0.9 * SEEDS * truth.size
    # Nor is the uncertainty so wide that it says nothing.
    assert wide[0] < {1: 0.3, 5: 0.25, 18: 0.2, 100: 0.05}[rate]


def test_finer_and_quieter_logs_are_surer(ridden):
    rng = np.random.default_rng(1)
    spread = []
    for rate, sigma in ((1, 0.1), (10, 0.05), (100, 0.0)):
        t, v = synthetic.gps(rng, ridden[0], ridden[1], rate=rate, sigma=sigma)
        spread.append(measured_splits(t, v, launches(t, v)[0], TARGETS).speed_time_u[0])
    assert spread[0] > spread[1] > spread[2]


@pytest.mark.parametrize("rate", [2, 10, 50])
def test_every_run_of_a_ride_is_found(ridden, rate):
    rng = np.random.default_rng(rate)
    begins, parts = [], []
    for k in range(3):
        t, v = synthetic.gps(rng, ridden[0], ridden[1], rate=rate, before=5.0)
        braking = np.maximum(v[-1] - 2.0 * np.arange(1, 12 * rate) / rate, 0.0)
        t = np.concatenate((t, t[-1] + np.arange(1, 12 * rate) / rate))
        begins.append(60.0 * k + 5.0)
        parts.append((60.0 * k + 5.0 + t, np.concatenate((v, braking))))
    time, speed = (np.concatenate(x) for x in zip(*parts, strict=True))
    found = launches(time, speed)
    assert [launch.start for launch in found] == pytest.approx(begins, abs=0.15)
    for launch, begin in zip(found, begins, strict=True):
        assert launch.end == pytest.approx(begin + ridden[0][-1], abs=2 / rate + 0.6)


def test_no_run_where_there_is_none():
    time = np.arange(0.0, 60.0, 0.2)
    assert launches(time, np.full(time.size, 8.0)) == ()
    assert launches(time, np.zeros(time.size)) == ()
    assert launches(time[:3], time[:3]) == ()
    # Pushing the bike about is no run.
    assert launches(time, 1.2 * (np.sin(time) > 0)) == ()


def log_of(time, speed, **more):
    names = ["time s", "speed m/s", *more]
    rows = np.column_stack((time, speed, *more.values()))
    text = "\n".join([",".join(names), *(",".join(f"{x:.3f}" for x in row) for row in rows)])
    return read_log(io.BytesIO(text.encode()), name="ride.csv")


def test_a_run_is_cut_out_with_its_volts_and_amperes(rig, ridden):
    time, speed, _, volts, amperes = (x[::5] for x in ridden)
    rest = np.arange(0.0, 5.0, 0.1)
    log = log_of(
        np.concatenate((rest, 5.0 + time)),
        np.concatenate((0 * rest, speed)),
        voltage=np.concatenate((67 + 0 * rest, volts)),
        power=np.concatenate((0 * rest, volts * amperes)),
    )
    (run,) = runs_in(log, rig)
    assert run.began == pytest.approx(5.0, abs=0.02)
    at = run.time > 1
    assert run.volts[at] == pytest.approx(np.interp(run.time[at], time, volts), abs=0.05)
    assert run.amperes[at] == pytest.approx(np.interp(run.time[at], time, amperes), abs=0.1)


def test_the_start_can_be_moved(rig, ridden):
    time, speed = ridden[0][::5], ridden[1][::5]
    log = log_of(time, speed)
    (run,) = runs_in(log, rig, start=0.5)
    assert run.began == 0.5
    assert run.time[0] == pytest.approx(-0.5)
    with pytest.raises(JobError, match="the log ends at"):
        runs_in(log, rig, start=500.0)


def test_a_log_without_a_run_says_what_it_shows(rig):
    time = np.arange(0.0, 60.0, 0.2)
    with pytest.raises(JobError, match=r"shows up to 29 km/h: check its unit"):
        runs_in(log_of(time, np.full(time.size, 8.0)), rig)


def test_averaging_keeps_means():
    time = np.arange(1000.0)
    t, v = averaged(time, 2 * time, most=300)
    assert t.size == 250
    assert v == pytest.approx(2 * t)
