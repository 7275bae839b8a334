"""Motor profiles: packaged ones, ones beside the job, and where none may be read."""

import json
from importlib import resources

import pytest

from curves import JobError, dump_job, load_job, load_profile, parse_job, profile_names
from curves.cli import main
from curves.parts.profiles import lay_over

JOB = """
format = "rimforce-job-1"
[motor.hub]
profile = "PROFILE"
[pack.p]
open_circuit_v = 48.0
resistance_ohm = 0.0
[tune.t]
phase_current_a = 75.0
[bike.b]
bike_mass_kg = 34.0
rider_kg = 80.0
tyre = "57-507"
rolling_coefficient = 0.012
drag_area_m2 = 0.60
[[setup]]
name = "one"
motor = "hub"
pack = "p"
tune = "t"
bike = "b"
"""
BENCH = """
kv_rpm_per_v = 9.0
resistance_ohm = 0.1
inductance_d_uh = 200
inductance_q_uh = 200
pole_pairs = 23
source = "measured: on the bench"
"""


def written(folder, profile, name="job.toml"):
    (folder / name).write_text(JOB.replace("PROFILE", profile))
    return folder / name


DEMOS = ("demo-hub-direct", "demo-hub-geared", "demo-mid-drive")


def test_names():
    assert set(DEMOS) <= set(profile_names())
    assert list(profile_names()) == sorted(profile_names())


@pytest.mark.parametrize("name", profile_names())
def test_every_value_of_a_packaged_profile_has_a_source_of_its_own(name):
    motor = load_profile(name)
    assert motor.model_fields_set - {"source", "sources", "tolerance", "profile"} == set(
        motor.sources
    )


@pytest.mark.parametrize("name", DEMOS)
def test_every_value_of_the_demos_says_it_is_invented(name):
    motor = load_profile(name)
    values = set(motor.sources)
    assert {motor.source_kind(field) for field in values} == {"invented"}
    assert {"kv_rpm_per_v", "resistance_ohm", "winding_heat_j_per_k"} <= set(motor.tolerance)
    assert motor.winding_limit_c is not None
    assert motor.profile == name


def test_the_three_kinds():
    direct, geared, mid = (load_profile(name) for name in DEMOS)
    assert (direct.gear_ratio, direct.overrunning_clutch) == (1.0, False)
    assert geared.gear_ratio > 1
    assert geared.overrunning_clutch
    assert mid.inductance_d_uh < 0.7 * mid.inductance_q_uh


def test_unknown_profile():
    with pytest.raises(JobError, match="must be a packaged profile"):
        load_profile("nix")


@pytest.mark.parametrize("profile", ["bench.toml", "mine/bench.toml", "mine/../bench.toml"])
def test_a_profile_beside_the_job_or_below_it(tmp_path, profile):
    (tmp_path / "mine").mkdir()
    for place in (tmp_path, tmp_path / "mine"):
        (place / "bench.toml").write_text(BENCH)
    job = load_job(written(tmp_path, profile))
    assert job.motor["hub"].pole_pairs == 23
    assert job.motor["hub"].source_kind("pole_pairs") == "measured"
    # Its text stands alone: no file is needed to read it again.
    assert parse_job(dump_job(job)) == job


def test_no_other_file_is_read(tmp_path):
    (tmp_path / "secret.toml").write_text(BENCH)
    (tmp_path / "shop").mkdir()
    for name in ("notes.txt", "inside.toml"):
        (tmp_path / "shop" / name).write_text(BENCH)
    (tmp_path / "shop" / "link.toml").symlink_to(tmp_path / "secret.toml")
    outside = [
        "../secret.toml",
        "../shop/../secret.toml",
        str(tmp_path / "secret.toml"),
        str(tmp_path / "shop" / "inside.toml"),
        "link.toml",
        "notes.txt",
        "..",
        ".",
        "gone.toml",
        "~/x.toml",
        "a\\u0000b.toml",
        "../motor_profiles/demo-hub-direct",
    ]
    for profile in outside:
        with pytest.raises(JobError, match="profile"):
            load_job(written(tmp_path / "shop", profile))


def test_text_without_a_folder_reads_no_file(tmp_path, monkeypatch):
    (tmp_path / "bench.toml").write_text(BENCH)
    monkeypatch.chdir(tmp_path)
    with pytest.raises(JobError, match="must be a packaged profile"):
        parse_job(JOB.replace("PROFILE", "bench.toml"))


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("kv = 3", "bench.toml: kv = 3: unknown field, did you mean kv_rpm_per_v"),
        ('profile = "demo-hub-direct"', "a profile cannot rest on another"),
        ("sources = 3", "bench.toml: sources = 3: must be a table"),
        ('format = "x"', 'must be "rimforce-motor-1"'),
        ("[[[", "bench.toml: is not valid TOML"),
        ("", "bench.toml: is empty"),
        ("kv_rpm_per_v = -3", "kv_rpm_per_v = -3: must be above 0"),
    ],
)
def test_a_wrong_profile(tmp_path, content, message):
    (tmp_path / "bench.toml").write_text(content)
    with pytest.raises(JobError) as caught:
        load_job(written(tmp_path, "bench.toml"))
    assert message in str(caught.value)


def test_own_fields_lie_over_the_profile_and_lose_its_notes():
    text = JOB.replace('"PROFILE"', '"demo-hub-direct"\nresistance_ohm = 0.2')
    motor = parse_job(text).motor["hub"]
    assert motor.resistance_ohm == 0.2
    assert motor.kv_rpm_per_v == load_profile("demo-hub-direct").kv_rpm_per_v
    assert "resistance_ohm" not in motor.tolerance
    assert motor.source_kind("resistance_ohm") is None
    assert motor.source_kind("kv_rpm_per_v") == "invented"


def test_the_profiles_line_goes_with_its_own_values_only():
    profile = {"pole_pairs": 8, "resistance_ohm": 0.1, "source": "maker: a sheet"}
    merged = lay_over(profile, {"profile": "x", "resistance_ohm": 0.2, "source": "measured"})
    assert merged == {
        "pole_pairs": 8,
        "resistance_ohm": 0.2,
        "source": "measured",
        "sources": {"pole_pairs": "maker: a sheet"},
    }


def test_a_wrong_kind_of_notes_is_refused_where_it_stands():
    text = JOB.replace('"PROFILE"', '"demo-hub-direct"\nresistance_ohm = 0.2\nsources = 3')
    with pytest.raises(JobError, match=r"\[motor.hub\] sources = 3: must be a table"):
        parse_job(text)


def test_the_command_checks_the_packaged_ones_and_files(tmp_path, capsys):
    assert main(["profiles", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["profiles"]
    assert [row["name"] for row in found] == list(profile_names())
    assert not any(row["without_source"] for row in found)
    (tmp_path / "bench.toml").write_text(BENCH.replace("source =", "#"))
    assert main(["profiles", str(tmp_path / "bench.toml")]) == 0
    assert "kv_rpm_per_v" in capsys.readouterr().out
    (tmp_path / "bench.toml").write_text("kv = 3")
    assert main(["profiles", str(tmp_path / "bench.toml")]) == 2
    assert "did you mean kv_rpm_per_v" in capsys.readouterr().err


@pytest.mark.parametrize("name", profile_names())
def test_each_file_tells_how_to_read_it(name):
    text = (resources.files("motor_profiles") / f"{name}.toml").read_text(encoding="utf-8")
    head = text.partition("format =")[0]
    for said in ("How to read it", "measured, maker, typical or", "terminal to", "Copy the file"):
        assert said in head
