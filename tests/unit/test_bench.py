"""Bench readings of motors whose truth is known, to a profile and back."""

import copy
import json

import numpy as np
import pytest

from curves import JobError, Motor, load_profile
from curves.cli import main
from curves.measured.bench import derive
from curves.measured.logs import demo_bench_text
from curves.measured.profile import kv_per, motor_profile, torque_per_ampere
from curves.measured.readings import Bench, parse_bench
from curves.parts.job import demo_job_text
from curves.parts.profiles import profile_fields
from tests.synthetic import bench as synthetic

SEEDS = 200
"""So many that chance alone hardly takes honest 95 % intervals below 90 %."""
TRUTH = load_profile("demo-hub-direct")
OTHERS = {
    "pack_resistance_ohm": synthetic.PACK_OHM,
    "circumference_m": synthetic.ROLL_OUT_M,
    "max_modulation": 1.0,
}


def readings(seed=0, **options):
    return synthetic.tree(np.random.default_rng(seed), **options)


def derived(tree):
    return derive(Bench.model_validate(tree))


def true_value(name):
    return OTHERS[name] if name in OTHERS else getattr(TRUTH, name)


def test_perfect_readings_give_the_motor_back():
    found = derived(readings(noise=0.0)).values
    for name in ("kv_rpm_per_v", "inductance_d_uh", "inductance_q_uh", "no_load_torque_nm"):
        # Half a unit of the last digit read, carried through: amperes of about 1 to 0.001.
        assert found[name].value == pytest.approx(true_value(name), rel=2e-3), name
    assert found["no_load_torque_nm_per_rad_s"].value == pytest.approx(0.011, rel=5e-3)
    assert found["resistance_ohm"].value == pytest.approx(TRUTH.resistance_ohm, rel=1e-4)
    assert found["pole_pairs"].value == TRUTH.pole_pairs
    assert found["max_modulation"].value == pytest.approx(1.0, abs=1e-3)


def test_values_lie_within_their_intervals_in_90_of_100(capsys):
    inside = {}
    for seed in range(SEEDS):
        rng = np.random.default_rng(seed)
        found = derived(synthetic.tree(rng, synthetic.meters(rng))).values
        for name, one in found.items():
            held = abs(one.value - true_value(name)) <= 2 * one.uncertainty + 1e-12
            inside[name] = inside.get(name, 0) + held
    with capsys.disabled():
        said = ", ".join(f"{name} {count}" for name, count in inside.items())
        print(f"\nbench: within 2 standard uncertainties, of {SEEDS}: {said}")
    assert len(inside) == 10
    assert min(inside.values()) >= 0.9 * SEEDS


def test_a_controller_that_reaches_less_than_all_volts_is_found_out():
    found = derived(readings(noise=0.0, modulation=0.93))
    assert found.values["max_modulation"].value == pytest.approx(0.93, abs=2e-3)
    assert any("reaches a modulation of 0.9" in warning for warning in found.warnings)


def test_without_back_emf_kv_comes_from_no_load_speed_with_the_drop_taken_off():
    thin = TRUTH.model_copy(update={"resistance_ohm": 0.6, "no_load_torque_nm": 1.5})
    tree = readings(noise=0.0, motor=thin)
    del tree["back_emf"]
    kv = derived(tree).values["kv_rpm_per_v"]
    assert kv.value == pytest.approx(TRUTH.kv_rpm_per_v, rel=1e-3)
    # A naive rpm per volt forgets the drop: it is further off than that.
    naive = np.mean([row["rotor_rpm"] / row["pack_v"] for row in tree["no_load"]])
    assert naive / TRUTH.kv_rpm_per_v < 0.985
    # Now what the controller reaches is an assumption, and its 2 % go into Kv.
    assert kv.uncertainty / kv.value == pytest.approx(0.02, rel=0.2)


@pytest.mark.parametrize(
    ("per", "factor"),
    [
        ("dc volt", 1.0),
        ("peak line-to-line", 1.0),
        ("rms line-to-line", np.sqrt(2)),
        ("peak phase", np.sqrt(3)),
        ("rms phase", np.sqrt(6)),
        ("peak to peak", 0.5),
    ],
)
def test_kv_as_others_state_it(per, factor):
    # Derived: a sine of peak V has V/√2 rms; line to line it is √3 times the phase's.
    assert kv_per(8.4, per) == pytest.approx(8.4 * factor)
    tree = readings(noise=0.0)
    del tree["back_emf"], tree["no_load"]
    tree["kv_stated"] = {"rpm_per_v": 8.4 * factor, "per": per}
    profile = motor_profile(Bench.model_validate(tree))
    assert profile.motor.kv_rpm_per_v == pytest.approx(8.4, rel=1e-3)
    assert profile.motor.source_kind("kv_rpm_per_v") == "maker"


def test_torque_per_ampere():
    # Purdue ECE 321 laboratory 10: T = 1.5 p λ I; Kt = 8.2699/Kv, 11.6955/Kv, 9.5493/Kv.
    at = torque_per_ampere(100.0)
    assert at["peak phase ampere"] == pytest.approx(0.0826993, abs=5e-8)
    assert at["rms phase ampere"] == pytest.approx(0.116955, abs=5e-7)
    assert at["ampere in the DC convention"] == pytest.approx(0.0954930, abs=5e-8)


def test_the_profile_reads_back_and_says_where_values_come_from():
    profile = motor_profile(parse_bench(demo_bench_text()))
    again = Motor.model_validate(profile_fields(profile.text, "made.toml"))
    assert again == profile.motor
    for name in ("kv_rpm_per_v", "resistance_ohm", "inductance_d_uh", "no_load_torque_nm"):
        assert again.source_kind(name) == "measured"
        assert 0 < again.tolerance[name] < 0.1


def test_the_demos_readings_are_those_of_its_script():
    rng = np.random.default_rng(20240611)
    assert synthetic.text(synthetic.tree(rng, synthetic.meters(rng))) == demo_bench_text()


def worse(change):
    tree = copy.deepcopy(readings())
    change(tree)
    return tree


def no_pair(tree):
    tree["resistance"] = [row for row in tree["resistance"] if row["pair"] != "C-A"]


def bad_joint(tree):
    for row in tree["resistance"]:
        row["millivolts"] *= 1.06 if row["pair"] == "B-C" else 1.0


def weakened(tree):
    for row in tree["no_load"]:
        row["rotor_rpm"] *= 1.15 if row["pack_v"] > 45 else 1.0


def one_speed(tree):
    tree["no_load"] = tree["no_load"][:1]


def two_speeds(tree):
    tree["no_load"] = tree["no_load"][:2]


def sloppy_turns(tree):
    rng = np.random.default_rng(1)
    for row in tree["inductance"]:
        row["microhenries"] *= 1 + 0.06 * rng.standard_normal()


def one_angle(tree):
    tree["inductance"] += [{**row, "rim_mm": row["rim_mm"] / 20} for row in tree["inductance"][:8]]
    tree["inductance"] = [row for row in tree["inductance"] if row["pair"] == "B-C"] + [
        row for row in tree["inductance"] if row["pair"] == "A-B" and row["rim_mm"] < 3
    ]


def hot_pack(tree):
    tree["pack_load"][2]["loaded_v"] -= 1.0


def missed_pole(tree):
    for row in tree["poles"]:
        row["electrical_hz"] *= 0.98


def other_count(tree):
    tree["not_measured"]["pole_pairs"] = 23


def wrong_volt(tree):
    tree["kv_stated"] = {"rpm_per_v": 11.9, "per": "dc volt"}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (no_pair, "C-A is missing"),
        (bad_joint, "The phases differ: B-C has"),
        (weakened, "weakening was on"),
        (one_speed, "all at about one speed"),
        (two_speeds, "three voltages or more"),
        (sloppy_turns, "about its fit"),
        (one_angle, "do not span half an electrical turn"),
        (hot_pack, "pack's resistance differs"),
        (missed_pole, "not near a whole number"),
        (other_count, "23 pole pairs were counted"),
        (wrong_volt, "another kind of volt"),
    ],
)
def test_what_a_careful_person_would_look_at_again(change, said):
    assert any(said in warning for warning in derived(worse(change)).warnings)


def test_alike_inductances_are_not_told_apart_by_noise():
    tree = readings()
    rng = np.random.default_rng(3)
    for row in tree["inductance"]:
        row["microhenries"] = 310.0 * (1 + 0.005 * rng.standard_normal())
    found = derived(tree)
    d, q = (found.values[f"inductance_{axis}_uh"].value for axis in "dq")
    assert d == q == pytest.approx(310.0, rel=0.005)
    assert any("within the readings' scatter" in warning for warning in found.warnings)


def test_extremes_are_found_between_readings():
    tree = readings(noise=0.0)
    rows = [row for row in tree["inductance"] if row["pair"] == "A-B"][:5]
    tree["inductance"] = rows
    seen = [row["microhenries"] for row in rows]
    found = derived(tree).values
    assert found["inductance_d_uh"].value == pytest.approx(300.0, abs=0.2)
    assert found["inductance_q_uh"].value == pytest.approx(325.0, abs=0.2)
    assert min(seen) > 300.5 or max(seen) < 324.5


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda t: t.update(format="rimforce-job-1"), "no file of bench readings"),
        (lambda t: t["resistance"][1].update(amperes=-6.0), "same sign"),
        (lambda t: t["resistance"][1].update(pair="A-C"), 'must be "A-B"'),
        (lambda t: t["inductance"][0].update(rotor_deg=1.0), "exactly one of"),
        (lambda t: t.pop("roll_out"), "rim_mm needs the wheel's roll-out"),
        (lambda t: t["pack_load"][0].update(loaded_v=60.0), "must be below resting_v"),
        (lambda t: t["no_load"][0].update(pack_volts=3.0), "did you mean pack_v"),
        (lambda t: t["not_measured"].update(gear_ratio="five"), "must be a number"),
        (lambda t: t["not_measured"].update(kv=1.0), "unknown field"),
        (lambda t: t.update(coast_down=[COAST]), "turns times into forces"),
        (lambda t: t["back_emf"][0].update(volts=float("nan")), "finite"),
    ],
)
def test_what_a_bench_file_may_not_hold(change, said):
    tree = readings()
    change(tree)
    with pytest.raises(JobError, match=said.replace("[", r"\[")):
        parse_bench(json.dumps(tree), name="hub.json")


COAST = {"direction": "out", "from_kmh": 40.0, "to_kmh": 30.0, "seconds": 5.0}


def test_a_motor_is_not_made_of_too_little():
    tree = readings()
    del tree["inductance"], tree["resistance"]
    with pytest.raises(JobError) as caught:
        motor_profile(Bench.model_validate(tree), name="hub.toml")
    assert str(caught.value).count("\n") == 2
    assert r"[[resistance]] readings" in str(caught.value)


def test_bench_command(capsys, tmp_path):
    made = tmp_path / "hub.toml"
    assert main(["bench", "--json", "-o", str(made)]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["format"] == "rimforce-bench-result-1"
    values = {row["field"]: row for row in document["values"]}
    assert values["kv_rpm_per_v"]["value"] == pytest.approx(8.4, rel=0.02)
    assert made.read_text(encoding="utf-8") == document["profile"]
    assert main(["bench"]) == 0
    out = capsys.readouterr().out
    assert "kv_rpm_per_v rpm/V" in out
    assert "rms volt, line to line" in out
    job = tmp_path / "job.toml"
    job.write_text(
        demo_job_text().replace('profile = "demo-hub-direct"', 'profile = "hub.toml"'),
        encoding="utf-8",
    )
    assert main(["top-speed", str(job)]) == 0


def test_bench_command_refuses(capsys, tmp_path):
    assert main(["bench", str(tmp_path / "none.toml")]) == 2
    assert "there is no such file" in capsys.readouterr().err
    assert main(["bench", str(tmp_path)]) == 2
    assert "is a folder" in capsys.readouterr().err
