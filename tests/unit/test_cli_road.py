"""The commands for the road, runs, heat and range, against direct calls and in their forms."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from curves import load_job
from curves.cli import main
from curves.motion.energy import steady_range
from curves.motion.heat import hill
from curves.motion.runs import Targets, coupled_runs, same_pack_power, timed_runs
from curves.parts.job import demo_job_text
from curves.units import FOOT, KMH, MILE


def run(capsys, *arguments):
    status = main(arguments)
    out, err = capsys.readouterr()
    return status, out, err


def as_json(capsys, *arguments):
    status, out, _ = run(capsys, *arguments, "--json")
    assert status == 0

    def refuse(name):
        raise AssertionError(f"{name} is no JSON")

    return json.loads(out, parse_constant=refuse)


@pytest.fixture
def two(tmp_path):
    """A job of two of the demo's setups: one never sees 30 mph."""
    head, *setups = demo_job_text().split("[[setup]]")
    keep = [s for s in setups if '"as delivered"' in s or '"20 cells, cap lifted"' in s]
    path = tmp_path / "two.toml"
    path.write_text("[[setup]]".join((head, *keep)), encoding="utf-8")
    return str(path)


def test_runs_json(capsys, two):
    got = as_json(
        capsys, "runs", two, "--to-mph", "20,30", "--distance-ft", "60", "--distance-m", "100"
    )
    assert got["format"] == "rimforce-runs-1"
    targets = Targets((20 * MILE / 3600, 30 * MILE / 3600), (60 * FOOT, 100.0))
    direct = coupled_runs(load_job(two).rigs(), targets).runs
    for k, setup in enumerate(got["setups"]):
        assert setup["name"] == direct.names[k]
        kinds = [split["kind"] for split in setup["splits"]]
        assert kinds == ["speed", "speed", "distance", "distance"]
        first, _, third, fourth = setup["splits"]
        assert first["target_kmh"] == pytest.approx(32.18688, abs=1e-12)
        assert first["time_s"] == pytest.approx(direct.speed_time[k, 0])
        assert first["distance_m"] == pytest.approx(direct.speed_distance[k, 0])
        assert third["target_m"] == pytest.approx(18.288, abs=1e-12)
        assert fourth["time_s"] == pytest.approx(direct.distance_time[k, 1])
        assert fourth["speed_kmh"] == pytest.approx(direct.distance_speed[k, 1] / KMH)
    slow = got["setups"][0]["splits"][1]
    assert slow["time_s"] is None
    assert slow["distance_m"] is None


def test_runs_frozen_with_roll_out_and_equal_power(capsys, two):
    arguments = ("runs", two, "--frozen", "--rollout-ft", "1", "--same-power-w", "lowest")
    got = as_json(capsys, *arguments, "--to-kmh", "25")
    rigs = same_pack_power(load_job(two).rigs())
    direct = timed_runs(rigs, Targets((25 * KMH,), (), roll_out=FOOT))
    times = [setup["splits"][0]["time_s"] for setup in got["setups"]]
    assert times == pytest.approx(direct.speed_time[:, 0].tolist())


def test_runs_for_people_says_what_is_never_reached(capsys, two):
    status, out, _ = run(capsys, "runs", two, "--frozen")
    assert status == 0
    assert "as delivered: It never reaches 48.3 km/h (30.0 mph)" in out
    for heading in ("20 mph s", "60 ft s", "1320 ft s"):
        assert heading in out


def test_runs_csv(capsys, two, tmp_path):
    file = tmp_path / "runs.csv"
    assert run(capsys, "runs", two, "--frozen", "--csv", str(file))[0] == 0
    with file.open(encoding="utf-8-sig", newline="") as text:
        lines = list(csv.DictReader(text))
    assert len(lines) == 2 * 5
    assert {line["kind"] for line in lines} == {"speed", "distance"}


@pytest.mark.parametrize(
    "arguments",
    [
        ("runs", "--to-mph", "0"),
        ("runs", "--rollout-ft", "-1"),
        ("runs", "--shift-s", "-0.2"),
        ("runs", "--same-power-w", "high"),
        ("runs", "--same-power-w", "0"),
        ("heat", "--length-m", "0"),
        ("heat", "--speed-kmh", "0"),
        ("range", "--speeds-kmh", "0:20:5"),
        ("range", "--empty", "1.5"),
        ("range", "--ride", "20,0"),
        ("range", "--ride", "0,0,5"),
    ],
)
def test_wrong_options_are_told(capsys, arguments):
    status, out, err = run(capsys, *arguments)
    assert status == 2
    assert out == ""
    assert err


def test_heat_json(capsys, two):
    got = as_json(capsys, "heat", two)
    assert got["format"] == "rimforce-heat-1"
    assert got["hill"] == {"grade_percent": 8.0, "length_m": 700.0, "speed_kmh": 15.0}
    direct = hill(load_job(two).rigs(), 0.08, 700.0, 15 * KMH)
    for k, setup in enumerate(got["setups"]):
        assert setup["hill"]["longest_m"] == pytest.approx(direct.longest[k])
        assert setup["hill"]["ended_by"] == "winding limit"
        assert setup["hill"]["low_m"] < setup["hill"]["longest_m"] < setup["hill"]["high_m"]
        assert setup["top_speed"]["settles"]


def test_heat_of_another_hill_in_words(capsys, two):
    status, out, _ = run(capsys, "heat", two, "--grade-percent", "2", "--length-m", "500")
    assert status == 0
    # However the lines are broken.
    assert "heat does not end this climb" in " ".join(out.split())


def test_heat_needs_a_hill(capsys, two, tmp_path):
    path = tmp_path / "no-hill.toml"
    text = Path(two).read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in text if not line.startswith("hill =")]
    path.write_text("".join(kept), encoding="utf-8")
    status, _, err = run(capsys, "heat", str(path))
    assert status == 2
    assert "the job has no goal hill" in err


def test_range_json(capsys, two):
    got = as_json(capsys, "range", two, "--speeds-kmh", "20,30", "--ride", "20,0,5; 15,4,0.7")
    assert got["format"] == "rimforce-range-1"
    direct = steady_range(load_job(two).rigs(), np.array([20.0, 30.0]) * KMH)
    for k, setup in enumerate(got["setups"]):
        assert setup["range_km"] == pytest.approx((direct.distance[k] / 1000).tolist())
        assert setup["wh_per_km"] == pytest.approx(direct.wh_per_km[k].tolist())
        assert setup["ride"]["done"]
        assert len(setup["ride"]["time_s"]) == 2


def test_range_for_people_scores_the_goal(capsys, two):
    status, out, _ = run(capsys, "range", two, "--speeds-kmh", "20,30")
    assert status == 0
    assert "goes 35 km at 30 km/h" in out
