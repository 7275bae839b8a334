"""Fits of runs whose truth is known: recovered within the stated interval, and honest beyond it."""

import dataclasses
import json

import numpy as np
import pytest

from curves import JobError, dump_job, load_job, parse_job
from curves.cli import main
from curves.measured.corrected import corrected
from curves.measured.fit import fit
from curves.measured.logs import demo_log, read_log
from curves.measured.measured_run import runs_in
from curves.measured.noise import Noise, noise_of
from curves.measured.overlay import overlay
from curves.measured.parameters import MOVABLE, parameters
from curves.measured.predict import changed, ridden
from curves.setups.stack import stack
from tests.synthetic import coverage
from tests.synthetic import runs as synthetic
from tests.synthetic.coverage import TRUTH, exact, noisy

FEWER, ENOUGH = 20, 16
"""Of 20 intervals 19 should hold the truth. True 95 % intervals miss 16 once in 400 times, ones
half as wide seven times in eight; tests/benchmarks counts 100."""
SETUP = synthetic.DEMO_SETUP


@pytest.fixture(scope="module")
def job():
    return load_job()


def test_road_load_is_recovered_from_speed_alone(job, monkeypatch, capsys):
    found = coverage.road_load(job, monkeypatch, FEWER)
    inside = coverage.counted(found, np.array(tuple(TRUTH.values())))
    with capsys.disabled():
        print(f"\nfit of road load to speed: truth within the 95 % interval {inside} of {FEWER}")
    assert inside.min() >= ENOUGH
    # Unbiased, and no wider than the scatter of the results themselves warrants.
    values = np.array([one.values for one in found])
    stated = np.median([one.uncertainty for one in found], axis=0)
    assert np.abs(values.mean(axis=0) / tuple(TRUTH.values()) - 1).max() < 0.04
    assert np.all(stated < 2.0 * values.std(axis=0))


def test_what_may_move_goes_by_part_where_setups_differ(job):
    moved = parameters(job, stack(job.rigs()), [1, 2], ["drag-area", "pack-resistance"])
    assert [p.name for p in moved] == [
        "drag area",
        "pack resistance of cells-13",
        "pack resistance of cells-16",
    ]
    assert moved[0].setups == (1, 2)


def test_without_noise_the_truth_comes_back(job):
    # The truth's own table of force is good to about 1e-5 of the speed.
    found = fit(job, [exact(job, **TRUTH)], ["drag-area", "rolling"], draws=0)
    assert found.values == pytest.approx((0.62, 0.0125), rel=1e-3)
    assert found.starts == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(
    ("word", "change", "value"),
    [
        ("kv", "motor__kv_rpm_per_v", 7.9),
        ("mass", "bike__bike_mass_kg", 52.0),
        ("usable-voltage", "controller__max_modulation", 0.9),
        ("charge", "setup__state_of_charge", 0.6),
        ("no-load-torque", "motor__no_load_torque_nm", 1.6),
        ("pack-current", "tune__pack_current_a", 22.0),
        ("phase-current", "tune__phase_current_a", 66.0),
        ("headwind", "conditions__headwind_kmh", 9.0),
        ("grade", "conditions__grade_percent", -0.7),
    ],
)
def test_each_thing_that_may_move_is_found_alone(job, word, change, value):
    # Where it matters: all the volts of ten cells are used, the amperes of twenty never.
    setup = {"pack-current": "20 cells, cap lifted", "usable-voltage": "as delivered"}.get(
        word, "13 cells"
    )
    found = fit(job, [exact(job, setup, **{change: value})], [word], draws=0)
    assert found.values[0] == pytest.approx(value, rel=2e-3)


def test_the_bootstrap_agrees_with_the_jacobian(job):
    run = noisy(exact(job, **TRUTH), 5)
    found = fit(job, [run], ["drag-area", "rolling"], draws=300)
    low, high = found.drawn_interval()
    share = (high - low) / (found.high - found.low)
    assert np.all((share > 0.7) & (share < 1.2))
    drawn = np.corrcoef(found.drawn.T)[0, 1]
    assert drawn == pytest.approx(found.correlation[0, 1], abs=0.05)
    again = fit(job, [run], ["drag-area", "rolling"], draws=20, seed=3)
    assert np.array_equal(
        again.drawn, fit(job, [run], ["drag-area", "rolling"], draws=20, seed=3).drawn
    )


def test_what_cannot_be_told_apart_is_said(job):
    # Rolling resistance and a steady slope are the same force.
    run = noisy(exact(job), 2)
    found = fit(job, [run], ["rolling", "grade"], draws=0)
    assert abs(found.correlation[0, 1]) > 0.99
    assert any("cannot tell rolling resistance from slope" in word for word in found.words)


def test_runs_both_ways_tell_slope_from_rolling(job):
    out, back = (
        exact(job, conditions__grade_percent=0.6),
        exact(job, conditions__grade_percent=-0.6),
    )
    runs = [noisy(out, 1), noisy(back, 2)]
    told = [dataclasses.replace(r, changes={"conditions.grade_percent": g})
            for r, g in zip(runs, (0.6, -0.6), strict=True)]  # fmt: skip
    right = fit(job, told, ["rolling"], draws=0)
    wrong = fit(job, runs[:1], ["rolling"], draws=0)
    assert right.low[0] <= 0.010 <= right.high[0]
    assert not wrong.low[0] <= 0.010 <= wrong.high[0]


def test_a_parameter_at_its_end_is_said(job):
    found = fit(job, [exact(job, "13 cells", bike__drag_area_m2=3.0)], ["drag-area"], draws=0)
    assert found.regression.at_bound[0]
    assert "ran to the end" in found.words[0]


def test_the_corrected_job_is_new_and_says_where_its_values_come_from(job):
    before = dump_job(job)
    run = dataclasses.replace(noisy(exact(job, **TRUTH), 1), name="ride.csv")
    found = fit(job, [run], ["drag-area", "rolling", "kv", "charge"], draws=0)
    new = corrected(job, found, runs=[run])
    assert dump_job(job) == before
    bike = new.bike["cargo"]
    assert bike.drag_area_m2 == pytest.approx(found.values[0], rel=1e-3)
    assert bike.source_of("drag_area_m2") == "measured: fitted to 1 run (ride.csv)"
    assert bike.tolerance["drag_area_m2"] == pytest.approx(
        found.uncertainty[0] / found.values[0], rel=0.05
    )
    assert new.motor["hub"].source_kind("kv_rpm_per_v") == "measured"
    assert new.setup[2].state_of_charge == pytest.approx(found.values[3], abs=1e-3)
    assert parse_job(dump_job(new)) == new


def test_road_load_coefficients_of_a_coast_down_can_be_moved(job):
    tree = job.tree()
    bike = tree["bike"]["cargo"]
    for name in ("rolling_coefficient", "drag_area_m2"):
        del bike[name], bike["tolerance"][name]
    bike["road_load_n"] = [16.0, 0.0, 0.43]
    coasted = parse_job(json.dumps(tree))
    run = noisy(exact(coasted, bike__f0=20.0, bike__f2=0.37), 4)
    found = fit(coasted, [run], ["drag-area", "rolling"], draws=0)
    assert np.all((found.low <= (0.37, 20.0)) & (found.high >= (0.37, 20.0)))
    new = corrected(coasted, found, runs=[run])
    assert new.bike["cargo"].road_load_n == pytest.approx(
        (found.values[1], 0.0, found.values[0]), rel=1e-2
    )


def test_overlay_before_and_after(job):
    run = noisy(exact(job, **TRUTH), 7, before=3.0, sigma=0.02, white=0.02)
    found = fit(job, [run], ["drag-area", "rolling"], draws=0)
    new = corrected(job, found, runs=[run])
    (old,) = overlay(job, [run])
    (better,) = overlay(new, [run], starts=found.starts)
    at = old.time > 1
    rms = [float(np.sqrt(np.mean(o.residual("speed")[at] ** 2))) for o in (old, better)]
    assert rms[1] < 0.05 < rms[0]
    assert set(old.measured) == {"speed", "distance", "volts", "amperes"}
    for split in better.splits:
        if np.isfinite(split.measured) and np.isfinite(split.predicted):
            assert abs(split.difference) < 3 * split.uncertainty + 0.02


def test_noise_is_found_with_its_memory():
    rng = np.random.default_rng(0)
    time = np.arange(0.0, 60.0, 0.1)
    design = np.column_stack((np.ones_like(time), time))
    for true in (Noise(0.1, 0.0, 1.0), Noise(0.1, 0.9, 1.0)):
        worth = []
        for _ in range(20):
            left = true.coloured(time, rng.standard_normal((time.size, 1)))[:, 0]
            left -= design @ np.linalg.lstsq(design, left, rcond=None)[0]
            worth.append(noise_of(time, left, design, least=0.001).independent(time))
        assert np.median(worth) == pytest.approx(true.independent(time), rel=0.35)


def test_white_and_coloured_are_inverse():
    rng = np.random.default_rng(0)
    time = np.cumsum(rng.uniform(0.05, 0.5, 50))
    noise = Noise(0.3, 0.7, 2.0)
    drawn = rng.standard_normal((50, 3))
    assert noise.white(time, noise.coloured(time, drawn)) == pytest.approx(drawn)
    # Brute force: the covariance that the docstring states.
    root = noise.coloured(time, np.eye(50))
    apart = np.abs(time[:, None] - time)
    assert root @ root.T == pytest.approx(0.09 * (0.7 * np.exp(-apart / 2.0) + 0.3 * np.eye(50)))


def test_prediction_is_that_of_the_timed_run(job):
    from curves.motion.runs import Targets, timed_runs

    stacked = stack(job.rigs()[:3])
    asked = Targets(speeds=(4.0, 8.0), distances=(50.0, 300.0))
    runs, paths = timed_runs(stacked, asked), ridden(stacked)
    rows = np.arange(3)
    speed, _ = paths.at(rows, runs.speed_time)
    assert speed == pytest.approx(np.broadcast_to((4.0, 8.0), (3, 2)), rel=1e-9)
    _, distance = paths.at(rows, runs.distance_time)
    assert distance == pytest.approx(np.broadcast_to((50.0, 300.0), (3, 2)), rel=1e-9)
    late, _ = paths.at(rows, np.full((3, 1), 1e4))
    assert late[:, 0] == pytest.approx(runs.end_speed, rel=1e-9)


def refused(job, runs, move):
    with pytest.raises(JobError) as caught:
        fit(job, runs, move, draws=0)
    return str(caught.value)


def test_what_a_fit_refuses(job):
    run = exact(job, seconds=8.0)
    assert "at least one run" in refused(job, [], ["kv"])
    assert "did you mean drag-area" in refused(job, [run], ["drag-aera"])
    assert "first guess" in refused(job, [run], ["torque-rise"])
    assert "there is no such setup" in refused(job, [dataclasses.replace(run, setup="x")], ["kv"])
    short = dataclasses.replace(
        run, time=run.time[:3], speed=run.speed[:3], volts=None, amperes=None
    )
    assert "samples of speed" in refused(job, [short], ["kv"])
    steep = dataclasses.replace(run, changes={"conditions.grade_percent": 60.0})
    assert "cannot start" in refused(job, [steep], ["kv"])
    with pytest.raises(JobError, match="no field of a setup"):
        changed(stack([job.rig(SETUP)]), [dataclasses.replace(run, changes={"bike.wings": 2.0})])


def test_every_word_has_fields_of_the_stack(job):
    known = stack(job.rigs()).values
    for word, about in MOVABLE.items():
        assert all(field in known for field in about.fields), word


def test_the_demos_log_is_that_of_its_script():
    assert demo_log().read().decode() == synthetic.demo_log(np.random.default_rng(8))


def test_the_demos_truth_is_within_its_intervals(job):
    runs = runs_in(read_log(demo_log(), name="eighth-mile.csv"), job.rig(SETUP))
    found = fit(job, runs, ["drag-area", "rolling"], draws=0)
    truth = np.array(tuple(synthetic.DEMO_TRUTH.values()))
    assert np.all((found.low <= truth) & (truth <= found.high))


def test_fit_command(capsys, tmp_path):
    made = tmp_path / "corrected.toml"
    assert main(["fit", "--draws", "30", "--json", "-o", str(made)]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["format"] == "rimforce-fit-1"
    area = document["parameters"][0]
    assert area["low"] < 0.64 < area["high"]
    new = load_job(made)
    assert new.bike["cargo"].drag_area_m2 == pytest.approx(area["value"], rel=1e-3)
    assert main(["fit", "--draws", "0"]) == 0
    out = capsys.readouterr().out
    assert "drag area" in out
    assert "660 ft" in out


def test_fit_command_reads_files_and_refuses(capsys, tmp_path):
    log = tmp_path / "ride.csv"
    log.write_bytes(demo_log().read())
    job = tmp_path / "job.toml"
    job.write_text(dump_job(load_job()), encoding="utf-8")
    arguments = ["fit", str(log), "--job", str(job), "--setup", SETUP, "--draws", "0"]
    assert main([*arguments, "--move", "drag-area"]) == 0
    capsys.readouterr()
    for more, said in (
        (["-o", str(job)], "is the job itself"),
        (["--move", "wings"], "nothing a fit can move"),
        (["--setup", "none"], "name one setup, or one for each of 1 logs"),
        (["--columns", "speed"], "quantity=NAME"),
        (["--run", "2"], "has 1 run"),
        (["--start-s", "900"], "the log ends at"),
    ):
        assert main([*arguments, *more]) == 2
        assert said in capsys.readouterr().err
    assert main(["fit", str(log), "--setup", "none"]) == 2
    assert "there is no such setup" in capsys.readouterr().err
    assert main(["fit", str(tmp_path / "none.csv")]) == 2
    assert "no such file" in capsys.readouterr().err
