"""``coast-down`` and ``recheck`` from the command line, and logs of coasting."""

import io
import json

import numpy as np
import pytest

from curves import JobError, load_job, parse_job
from curves.cli import main
from curves.measured.coastdown import from_times
from curves.measured.coasts import coast_in, rolled_of, with_road_load
from curves.measured.logs import demo_coast_text, read_log
from curves.measured.readings import parse_bench
from curves.measured.rolling import STANDARD_DENSITY, coasting_speed
from curves.parts.conditions import GRAVITY
from tests.synthetic import coast as synthetic

ROLLING, AREA = 0.013, 0.64
"""What the demo's bike really has."""


@pytest.fixture(scope="module")
def rig():
    return load_job().rig("16 cells")


def log_of(rig, sign, begin=11.0, last=70.0):
    """A log of standing, riding up to speed and coasting, in km/h."""
    rolled = rolled_of(rig)
    truth = np.array(
        [[ROLLING * rolled.mass * GRAVITY, 0.0, AREA * STANDARD_DENSITY / 2, 1.2, 0.001]]
    )
    time = np.arange(0.0, last, 0.2)
    coasted = coasting_speed(truth, np.array([begin]), rolled, sign, time)[0]
    speed = np.concatenate((np.zeros(10), np.linspace(0.0, begin, 40), coasted))
    rows = "".join(f"{0.2 * k:.1f},{3.6 * v:.3f}\n" for k, v in enumerate(speed))
    return f"time_s,speed_kmh\n{rows}"


def test_the_demos_times_are_those_of_its_script():
    assert demo_coast_text() == synthetic.text(np.random.default_rng(11))


def test_the_demos_truth_is_found_with_what_the_motor_drags_taken_off(rig):
    bench = parse_bench(demo_coast_text())
    found = from_times(bench, dragged=rolled_of(rig).dragged)
    assert abs(found.rolling_coefficient - ROLLING) < 3 * found.rolling_uncertainty
    assert abs(found.drag_area - AREA) < 3 * found.area_uncertainty
    assert found.wind == pytest.approx(synthetic.WIND, abs=0.1)
    # A hub without a clutch is a tenth of the rolling resistance here.
    assert from_times(bench).rolling_coefficient > ROLLING * 1.08


def test_times_hold_the_truth_in_their_intervals(rig, capsys):
    dragged, inside, seeds = rolled_of(rig).dragged, np.zeros(2), 20
    for seed in range(seeds):
        found = from_times(
            parse_bench(synthetic.text(np.random.default_rng(seed))), dragged=dragged
        )
        off = np.array((found.rolling_coefficient - ROLLING, found.drag_area - AREA))
        inside += np.abs(off) <= 2 * np.array((found.rolling_uncertainty, found.area_uncertainty))
    with capsys.disabled():
        print(f"\ncoast-down times: truth within 2 standard uncertainties {inside} of {seeds}")
    # 95 of 100 are due; 15 or fewer of 20 would happen once in 400 times.
    assert inside.min() >= 16


def test_a_clutch_drags_nothing_and_wheels_count(rig):
    assert rolled_of(rig).dragged[0] == pytest.approx(
        rig.motor.no_load_torque_nm * 2 * np.pi / rig.bike.roll_out_m
    )
    job = load_job()
    free = job.replace(("motor", "hub", "overrunning_clutch"), True).rig("16 cells")
    assert rolled_of(free).dragged == (0.0, 0.0)
    heavy = job.replace(("bike", "cargo", "wheel_inertia_kg_m2"), 0.4).rig("16 cells")
    radius = heavy.bike.roll_out_m / (2 * np.pi)
    assert rolled_of(heavy).inertia == pytest.approx(heavy.mass_kg + 0.4 / radius**2)


def test_the_part_of_a_log_that_coasts(rig):
    log = read_log(io.BytesIO(log_of(rig, 1.0).encode()), name="out.csv")
    found = coast_in(log, "out", rig)
    assert found.speed[0] == pytest.approx(0.97 * 11.0, abs=0.2)
    assert found.speed[-1] == pytest.approx(8.0 / 3.6, abs=0.1)
    assert np.all(np.diff(found.speed) < 0)
    between = coast_in(log, "out", rig, from_kmh=30.0, to_kmh=20.0)
    assert between.speed[[0, -1]] * 3.6 == pytest.approx((30.0, 20.0), abs=0.6)
    for asked, said in (
        ({"from_kmh": 60.0}, "cannot slow from 60 to 8 km/h: its highest speed is 39"),
        ({"to_kmh": 50.0}, "cannot slow from 38 to 50 km/h"),
        ({"to_kmh": -1.0}, "does not slow to -1 km/h"),
    ):
        with pytest.raises(JobError, match=said):
            coast_in(log, "out", rig, **asked)


def test_the_job_takes_what_was_found():
    job = load_job()
    found = from_times(parse_bench(demo_coast_text()))
    new = with_road_load(job, "cargo", found, source="road.toml")
    bike = new.bike["cargo"]
    assert bike.drag_area_m2 == pytest.approx(found.drag_area, rel=1e-3)
    assert bike.source_of("rolling_coefficient") == "measured: coast-down (road.toml)"
    assert bike.tolerance["drag_area_m2"] < job.bike["cargo"].tolerance["drag_area_m2"]
    tree = job.tree()
    for name in ("rolling_coefficient", "drag_area_m2"):
        del tree["bike"]["cargo"][name], tree["bike"]["cargo"]["tolerance"][name]
    tree["bike"]["cargo"]["road_load_n"] = [10.0, 0.0, 0.3]
    coasted = with_road_load(parse_job(json.dumps(tree)), "cargo", found, source="x")
    assert coasted.bike["cargo"].road_load_n == pytest.approx(found.values, rel=1e-3)
    with pytest.raises(JobError, match="none of that name"):
        with_road_load(job, "tandem", found, source="x")


def test_coast_down_command(capsys, tmp_path, rig):
    made = tmp_path / "rolled.toml"
    assert main(["coast-down", "--json", "-o", str(made)]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["format"] == "rimforce-coast-down-1"
    assert document["drag_area_m2"] == pytest.approx(AREA, rel=0.03)
    assert load_job(made).bike["cargo"].drag_area_m2 == pytest.approx(
        document["drag_area_m2"], rel=1e-3
    )
    logs = []
    for way, sign in (("--out", 1.0), ("--back", -1.0)):
        log = tmp_path / f"{way[2:]}.csv"
        log.write_text(log_of(rig, sign), encoding="utf-8")
        logs += [way, str(log)]
    assert main(["coast-down", *logs, "--setup", "16 cells", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["rolling_coefficient"] == pytest.approx(ROLLING, rel=0.02)
    assert document["drag_area_m2"] == pytest.approx(AREA, rel=0.02)
    assert main(["coast-down"]) == 0
    assert "drag area" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["x.toml", "--out", "y.csv"], "either a file of times or logs"),
        (["--out", "y.csv"], "logs need mass, air and motor"),
        (["--out", "y.csv", "--setup", "16 cells", "--mass-kg", "0"], "must be 1 to 10000"),
        (["--out", "y.csv", "--setup", "16 cells"], "no such file"),
        (["--job", "none.toml"], "no such file"),
    ],
)
def test_what_coast_down_refuses(capsys, arguments, said):
    assert main(["coast-down", *arguments]) == 2
    assert said in capsys.readouterr().err


def test_recheck_command(capsys):
    read = ["--setup", "16 cells", "--top-speed-kmh", "36", "--wh-per-km", "17"]
    assert main(["recheck", *read, "--wh-speed-kmh", "25", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["format"] == "rimforce-recheck-1"
    assert [one["agrees"] for one in document["checks"]] == [False, False]
    assert document["suspects"][0]["field"] in ("bike.drag_area_m2", "conditions.headwind_kmh")
    assert main(["recheck", "--setup", "16 cells", "--resting-v", "67.1"]) == 0
    out = capsys.readouterr().out
    assert "Resting volts: 67.1 V agrees with 67.2 to 67.2." in out
    assert main(["recheck"]) == 2
    assert "needs at least one of top_speed_kmh" in capsys.readouterr().err
