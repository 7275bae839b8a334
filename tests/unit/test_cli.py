"""The commands against direct calls of the library, and their three forms of output."""

import csv
import io
import json
import math
import os
import stat
import sys

import numpy as np
import pytest

from curves import job_schema, load_job, parse_job
from curves.cautions import cautions, fit, survey
from curves.cli import COMMANDS, main
from curves.commands.options import number_list
from curves.commands.output import show, write_file
from curves.commands.people import banded, digits, table, within
from curves.errors import JobError
from curves.parts.job import demo_job_text
from curves.plaintext import showable
from curves.present.serial import csv_text, json_text
from curves.steady.balance import top_speed
from curves.steady.braking import braking_envelope, braking_words
from curves.steady.drive_off import drive_off
from curves.steady.envelope import envelope, words
from curves.units import KMH, RPM
from curves.words.digits import spanned

SPEEDS = "0:80:20"
LIMIT_WORDS = (
    "phase current",
    "field weakening current",
    "pack current",
    "power cap",
    "low-voltage cut-off",
    "voltage",
    "speed cap",
    "motor speed",
    "electrical speed",
    "coasting",
)
"""The words and their order, as the file format's contract lists them."""


def run(capsys, *arguments):
    status = main(arguments)
    out, err = capsys.readouterr()
    return status, out, err


def as_json(capsys, *arguments):
    status, out, _ = run(capsys, *arguments, "--json")
    assert status == 0

    def refuse(name):
        raise AssertionError(f"{name} is no JSON")

    assert out.count("\n") == 1
    return json.loads(out, parse_constant=refuse)


def nulls(values):
    return [None if math.isnan(x) else x for x in np.asarray(values).tolist()]


def test_curves_gives_the_envelope(capsys):
    document = as_json(capsys, "curves", "--speeds-kmh", SPEEDS)
    rigs = load_job().rigs()
    speeds = np.array([0.0, 20.0, 40.0, 60.0, 80.0])
    curve, top = envelope(rigs, speeds * KMH), top_speed(rigs)
    assert document["format"] == "rimforce-curves-1"
    assert len(document["setups"]) == len(rigs)
    for k, setup in enumerate(document["setups"]):
        expected = {
            "name": rigs[k].name,
            "speed_kmh": speeds.tolist(),
            "rotor_rpm": nulls(curve.rotor_speed[k] / RPM),
            "torque_nm": nulls(curve.torque[k]),
            "rim_force_n": nulls(curve.rim_force[k]),
            "road_force_n": nulls(curve.road_force[k]),
            "shaft_power_w": nulls(curve.shaft_power[k]),
            "pack_power_w": nulls(curve.pack_power[k]),
            "pack_voltage_v": nulls(curve.pack_voltage[k]),
            "pack_current_a": nulls(curve.pack_current[k]),
            "phase_current_a": nulls(curve.phase_current[k]),
            "current_d_a": nulls(curve.current_d[k]),
            "current_q_a": nulls(curve.current_q[k]),
            "efficiency": nulls(curve.efficiency[k]),
            "limited_by": [words(x) for x in curve.limited[k]],
            "base_speed_kmh": top.base_speed[k] / KMH,
            "no_load_speed_kmh": top.no_load_speed[k] / KMH,
            "top_speed_kmh": top.speed[k] / KMH,
            "top_speed_limited_by": list(top.limited_by[k]),
        }
        assert setup == expected
        assert list(setup) == list(expected)


def test_braking_comes_under_its_own_key_and_changes_no_other(tmp_path, capsys):
    job = load_job().replace("tune.town.regen_pack_current_a", 10.0)
    job = job.replace("setup.0.state_of_charge", 0.5)
    file = tmp_path / "job.json"
    file.write_text(json.dumps(job.tree()), encoding="utf-8")
    plain = as_json(capsys, "curves", str(file), "--speeds-kmh", SPEEDS)["setups"]
    braked = as_json(capsys, "curves", str(file), "--speeds-kmh", SPEEDS, "--braking")["setups"]
    wanted = braking_envelope(job.rigs(), np.array([0.0, 20.0, 40.0, 60.0, 80.0]) * KMH)
    for k, setup in enumerate(braked):
        brakes = setup.pop("braking")
        assert setup == plain[k]
        assert brakes["rim_force_n"] == nulls(wanted.rim_force[k])
        assert brakes["pack_current_a"] == nulls(wanted.pack_current[k])
        assert brakes["limited_by"] == [braking_words(x) for x in wanted.limited[k]]
    # Half full it charges with all it may; the full pack takes nothing (the ruling of the model).
    half, full = (
        np.array(b, dtype=float) for b in (wanted.pack_current[0], wanted.pack_current[1])
    )
    assert half[1] == pytest.approx(-10.0, rel=1e-6)
    assert np.nanmin(full) > -1e-9
    _, output, _ = run(capsys, "curves", str(file), "--speeds-kmh", SPEEDS, "--braking")
    assert "regen pack current" in output
    assert "full-charge voltage" in output


def test_gains_come_under_their_own_key_and_change_no_other(capsys):
    plain = as_json(capsys, "curves", "--speeds-kmh", SPEEDS)["setups"]
    more = as_json(capsys, "curves", "--speeds-kmh", SPEEDS, "--gains")["setups"]
    curve = envelope(load_job().rigs(), np.array([0.0, 20.0, 40.0, 60.0, 80.0]) * KMH)
    for k, setup in enumerate(more):
        gain = setup.pop("gain_per_unit")
        assert setup == plain[k]
        assert gain["nm_per_pack_v"] == nulls(curve.gain.pack_v[k])
        per = setup["rim_force_n"][0] / setup["torque_nm"][0]
        assert gain["rim_n_per_phase_a"][0] == pytest.approx(gain["nm_per_phase_a"][0] * per)
    _, output, _ = run(capsys, "curves", "--speeds-kmh", SPEEDS, "--gains")
    assert "rim N that one more buys" in output


def test_past_the_last_speed_driven_only_the_road_is_left(capsys):
    setup = as_json(capsys, "curves", "--speeds-kmh", "80")["setups"][0]
    left = {key for key, x in setup.items() if isinstance(x, list) and x[0] not in (None, [])}
    assert left == {"speed_kmh", "rotor_rpm", "road_force_n", "top_speed_limited_by"}
    assert setup["limited_by"] == [[]]


def test_words_come_in_their_order(capsys):
    for setup in as_json(capsys, "curves", "--speeds-kmh", "0:90:1")["setups"]:
        for listed in [*setup["limited_by"], setup["top_speed_limited_by"]]:
            places = [LIMIT_WORDS.index(word) for word in listed]
            assert places == sorted(set(places))


def test_top_speed_gives_the_balance(capsys):
    document = as_json(capsys, "top-speed")
    top = top_speed(load_job().rigs())
    off = drive_off(load_job().rigs(), top)
    assert document["format"] == "rimforce-top-speed-1"
    assert [s["name"] for s in document["setups"]] == list(top.names)
    for k, setup in enumerate(document["setups"]):
        assert list(setup) == [
            "name",
            "top_speed_kmh",
            "limited_by",
            "gain_per_unit",
            "base_speed_kmh",
            "no_load_speed_kmh",
            "drive_off_emf_v",
            "drive_off_emf_cold_v",
            "pack_voltage_v",
            "drive_off",
            "measure_next",
            "influences",
        ]
        assert setup["top_speed_kmh"] == top.speed[k] / KMH
        assert setup["limited_by"] == list(top.limited_by[k])
        assert setup["base_speed_kmh"] == top.base_speed[k] / KMH
        assert setup["no_load_speed_kmh"] == top.no_load_speed[k] / KMH
        assert setup["drive_off_emf_v"] == top.drive_off_emf_v[k]
        assert setup["pack_voltage_v"] == top.pack_voltage[k]
        assert set(setup["gain_per_unit"]) == {
            "kmh_per_pack_v",
            "kmh_per_series_cell",
            "kmh_per_pack_a",
            "kmh_per_phase_a",
            "kmh_per_weakening_a",
            "kmh_per_w",
            "kmh_per_m2",
            "kmh_per_kg",
        }
        for unit, gain in setup["gain_per_unit"].items():
            assert [gain] == nulls([top.gain[unit][k]])
        assert setup["drive_off"]["brakes_above_kmh"] == off.starts[k] / KMH
        assert setup["drive_off"]["exceeds_rating_above_kmh"] == off.exceeds_rating[k] / KMH
        assert setup["drive_off"]["charging_current_a"] == off.charging_current[k]
        moved = [x["input"] for x in setup["influences"]]
        assert moved
        assert setup["measure_next"] == moved[0]


def test_the_same_job_as_json_gives_the_same(tmp_path, capsys):
    job = load_job()
    (tmp_path / "job.toml").write_text(demo_job_text(), encoding="utf-8")
    (tmp_path / "job.json").write_text(json.dumps(job.tree()), encoding="utf-8")
    answers = [
        as_json(capsys, "top-speed", str(tmp_path / f"job.{kind}")) for kind in ("toml", "json")
    ]
    assert answers[0] == answers[1] == as_json(capsys, "top-speed")


def test_a_setup_that_cannot_start_is_null_and_no_error(tmp_path, capsys):
    job = load_job().replace("tune.town.low_voltage_cutoff_v", 90.0)
    file = tmp_path / "job.json"
    file.write_text(json.dumps(job.tree()), encoding="utf-8")
    setup = as_json(capsys, "top-speed", str(file))["setups"][0]
    assert setup["top_speed_kmh"] is None
    assert setup["limited_by"] == []
    curve = as_json(capsys, "curves", str(file), "--speeds-kmh", "0,20")["setups"][0]
    assert curve["torque_nm"] == [None, None]
    assert curve["limited_by"] == [[], []]
    for command in ("top-speed", "curves", "check"):
        status, out, _ = run(capsys, command, str(file))
        assert status == 0
        assert "nan" not in out


def test_check_gives_verdicts_and_cautions(capsys):
    document = as_json(capsys, "check", "--class", "en-15194", "--fuse-a", "20")
    rigs = load_job().rigs()
    assert document["format"] == "rimforce-check-1"
    for rig, facts, setup in zip(rigs, survey(rigs), document["setups"], strict=True):
        found, risks = fit(rig, facts), cautions(rig, facts, road_class="en-15194")
        assert setup["name"] == rig.name
        assert setup["verdict"] == found.verdict
        assert [r["text"] for r in setup["reasons"]] == [r.text for r in found.reasons]
        assert [c["key"] for c in setup["cautions"]] == [c.key for c in risks]
        assert setup["plausible"] == found.plausible
        assert setup["drive_off"]["top_speed_v"] == facts.top_emf
        assert any(link["part"] == "fuse" and link["rating"] == 20 for link in setup["links"])


def test_check_says_each_thing_to_people(capsys):
    status, out, err = run(capsys, "check")
    assert (status, err) == (0, "")
    flowing = " ".join(out.split())
    for rig, facts in zip(load_job().rigs(), survey(load_job().rigs()), strict=True):
        for reason in fit(rig, facts).against:
            assert reason.text in flowing
        for caution in cautions(rig, facts):
            if caution.severity != "reminder":
                assert caution.text in flowing


def test_schema_is_the_schema(capsys):
    status, out, _ = run(capsys, "schema")
    assert status == 0
    assert json.loads(out) == job_schema()
    assert run(capsys, "schema", "--json")[1] == out


@pytest.mark.parametrize("command", ["curves", "top-speed", "check"])
def test_csv_has_the_numbers_of_the_json(command, tmp_path, capsys):
    file = tmp_path / "out.csv"
    status, out, _ = run(capsys, command, "--csv", str(file))
    assert (status, out) == (0, "")
    with file.open(newline="", encoding="utf-8") as text:
        rows = list(csv.DictReader(text))
    setups = as_json(capsys, command)["setups"]
    if command == "top-speed":
        assert [float(row["top_speed_kmh"]) for row in rows] == [s["top_speed_kmh"] for s in setups]
        assert float(rows[0]["kmh_per_w"]) == setups[0]["gain_per_unit"]["kmh_per_w"]
    elif command == "curves":
        forces = [x for setup in setups for x in setup["rim_force_n"]]
        assert [float(r["rim_force_n"]) if r["rim_force_n"] else None for r in rows] == forces
    else:
        texts = [x["text"] for s in setups for x in (*s["reasons"], *s["cautions"])]
        assert [row["text"] for row in rows] == texts


def test_json_and_csv_together_keep_standard_output_to_json(tmp_path, capsys):
    file = tmp_path / "out.csv"
    as_json(capsys, "top-speed", "--csv", str(file))
    assert file.exists()


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n"])
def test_no_text_of_a_csv_is_a_formula(start):
    # OWASP's list of characters that start a formula in a spreadsheet (from memory).
    written = csv_text([{"setup": f"{start}HYPERLINK(1)", "force_n": -3.5, "none": float("nan")}])
    row = next(iter(csv.DictReader(io.StringIO(written, newline=""))))
    assert row["setup"] == f"'{showable(start)}HYPERLINK(1)"
    assert float(row["force_n"]) == -3.5
    assert row["none"] == ""


def test_a_file_is_replaced_whole_or_not_at_all(tmp_path, monkeypatch):
    file = tmp_path / "out.csv"
    file.write_text("before")
    file.chmod(0o640)

    def full(_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(JobError, match="No space left"):
            write_file(file, "after", option="--csv")
    assert file.read_text() == "before"
    assert [entry.name for entry in tmp_path.iterdir()] == ["out.csv"]
    write_file(file, "after", option="--csv")
    assert file.read_text() == "after"
    if sys.platform != "win32":
        assert stat.S_IMODE(file.stat().st_mode) == 0o640


@pytest.mark.skipif(sys.platform == "win32", reason="no such devices or links there")
def test_a_link_stays_a_link_and_a_device_a_device(tmp_path):
    target, link = tmp_path / "target.csv", tmp_path / "link.csv"
    link.symlink_to(target)
    write_file(link, "text", option="--csv")
    assert link.is_symlink()
    assert target.read_text() == "text"
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    write_file(pipe, "text", option="--csv")
    assert os.read(reader, 10) == b"text"
    os.close(reader)
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_names_are_shown_as_they_are_and_never_as_markup(tmp_path, capsys):
    names = ("[red]quick[/red]", "=1+1", "Ω·m")
    job = load_job()
    for k, name in enumerate(names):
        job = job.replace(("setup", k + 1, "name"), name)
    file = tmp_path / "job.json"
    file.write_text(json.dumps(job.tree()), encoding="utf-8")
    _, out, _ = run(capsys, "curves", str(file), "--speeds-kmh", "20")
    assert all(name in out for name in names)
    assert as_json(capsys, "top-speed", str(file))["setups"][1]["name"] == names[0]


def test_arrays_and_what_is_not_a_number_become_json():
    document = {"a": np.array([1.0, np.nan, np.inf]), "b": (np.float64(2), np.int64(3)), "c": None}
    assert json.loads(json_text(document)) == {"a": [1.0, None, None], "b": [2.0, 3], "c": None}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0:80:20", [0, 20, 40, 60, 80]),
        ("0:1:0.3", [0, 0.3, 0.6, 3 * 0.3]),
        # The stop is meant too, though (b - a) / c is 5.999999999999999 there.
        ("0.1:0.7:0.1", [0.1 + 0.1 * k for k in range(7)]),
        ("5:5:1", [5]),
        ("25", [25]),
        ("30, 20,25", [30, 20, 25]),
        ("0:10:5,42", [0, 5, 10, 42]),
    ],
)
def test_speeds_are_read_by_the_ruling(text, expected):
    # a + k c for k = 0 … floor((b - a) / c + 1e-9)
    np.testing.assert_array_equal(number_list(text, "--speeds-kmh"), expected)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("-5", "0 or more"),
        ("-10:10:5", "0 or more"),
        ("0:80:0", "step"),
        ("0:80:-1", "step"),
        ("80:0:1", "stop"),
        ("0:80", "start:stop:step"),
        ("0:80:1:2", "start:stop:step"),
        ("fast", "start:stop:step"),
        ("", "start:stop:step"),
        ("nan", "start:stop:step"),
        ("0:inf:1", "start:stop:step"),
        ("0:1000:0.001", "more than 100000 values"),
        ("0:1e300:1e-300", "more than 100000 values"),
        ("0:60000:1,0:60000:1", "at most 100000"),
        ("1e7", "at most 1e+06"),
    ],
)
def test_speeds_that_mean_nothing_are_refused(text, said):
    with pytest.raises(JobError) as raised:
        number_list(text, "--speeds-kmh")
    assert said in str(raised.value)
    assert str(raised.value).startswith("--speeds-kmh")


@pytest.mark.parametrize(
    ("value", "shown"),
    [(44.79, "44.8"), (1234.0, "1230"), (9.996, "10.0"), (0.0, "0"), (-0.0123, "-0.0123"),
     (math.nan, "–"), (math.inf, "–")],
)  # fmt: skip
def test_three_digits(value, shown):
    assert digits(value) == shown


@pytest.mark.parametrize(
    ("value", "spread", "shown", "with_band"),
    [
        (44.79, 1.9, "45", "45 ± 3"),
        (224.1, 12.0, "220", "220 ± 20"),
        (0.5, 0.01, "0.50", "0.50 ± 0.02"),
        (26.0, 1e-12, "26.0", "26.0"),
        (1052.3, 0.2, "1050", "1050 ± 0.3"),
        (44.79, 0.0, "44.8", "44.8"),
        (math.nan, 1.0, "–", "–"),
    ],
)
def test_no_more_digits_than_the_band_allows(value, spread, shown, with_band):
    assert within(value, spread) == shown
    assert banded(value, spread) == with_band


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (41.67, 47.91, "45 ± 3 km/h"),
        (44.79, 44.79, "44.8 km/h"),
        (30.0, 47.0, "45 km/h (30 to 47)"),
        (math.nan, 47.0, "45 km/h (up to 47; may not start)"),
        (41.0, math.nan, "45 km/h (from 41; may not start)"),
        (math.nan, math.nan, "45 km/h (may not start)"),
    ],
)
def test_a_band_with_unlike_sides_is_told_by_its_ends(low, high, said):
    assert spanned(44.79, low, high, "km/h", none="may not start") == said
    assert spanned(math.nan, low, high, none="may not start") == "–"


def in_columns(width, monkeypatch, capsys):
    monkeypatch.setattr("curves.commands.output.PIPED_WIDTH", width)
    columns = ("setup", "top km/h", "limited by")
    rows = [("13 cells, weakened", "37 ± 2", "field weakening current"), ("x" * 90, "–", "–")]
    show([table(columns, rows, words=2)])
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= width
    return out


def test_a_narrow_terminal_breaks_no_word_and_no_number(monkeypatch, capsys):
    out = in_columns(52, monkeypatch, capsys)
    for whole in ("weakened", "37 ± 2", "top km/h", "weakening", "current"):
        assert whole in out


def test_a_very_narrow_terminal_breaks_words_but_loses_nothing(monkeypatch, capsys):
    squeezed = "".join(in_columns(30, monkeypatch, capsys).split())
    assert squeezed.count("x") == 90


def test_every_command_has_its_help(capsys):
    for name, (_, told) in COMMANDS.items():
        status, out, err = run(capsys, name, "--help")
        assert (status, err) == (0, "")
        assert told.split()[0] in out
        assert f"rimforce {name}" in out
    status, out, _ = run(capsys, "--help")
    assert status == 0
    assert all(name in out for name in COMMANDS)


def test_the_default_job_is_the_demo(tmp_path, capsys):
    file = tmp_path / "demo.toml"
    file.write_text(demo_job_text(), encoding="utf-8")
    assert parse_job(demo_job_text()) == load_job()
    assert run(capsys, "top-speed", str(file)) == run(capsys, "top-speed")


def test_a_name_without_a_space_widens_no_line(capsys, tmp_path):
    tree = load_job().tree()
    tree["setup"] = tree["setup"][:1]
    tree["setup"][0]["name"] = tree["compare_to"] = "W" * 1900
    file = tmp_path / "long.json"
    file.write_text(json.dumps(tree), encoding="utf-8")
    for command in ("check", "top-speed"):
        status, out, _ = run(capsys, command, str(file))
        assert status == 0
        assert max(map(len, out.splitlines())) <= 120
