"""The job: what it says when something is wrong, round trips, edits, rigs."""

import json

import pytest

from curves import JobError, Problem, dump_job, job_schema, load_job, parse_job
from curves.parts.pack import cell_names

GOOD = """
format = "rimforce-job-1"
title = "Bench"
compare_to = "first"

[goals]
hill = { grade_percent = 8.0, length_m = 900.0, speed_kmh = 20.0 }

[motor.hub]
kv_rpm_per_v = 8.2
resistance_ohm = 0.16
inductance_d_uh = 310.0
inductance_q_uh = 340.0
pole_pairs = 20

[controller.sine]
max_input_v = 90.0
mtpa = true

[pack.p14]
cell = "nmc-21700"
series = 14
parallel = 4
cell_resistance_mohm = 30.0
source = "typical: a catalogue cell"

[pack."v1.5"]
open_circuit_v = 48.0
resistance_ohm = 0.0

[tune.town]
phase_current_a = 75.0
phase_limit = "vector"

[bike.courier]
bike_mass_kg = 34.0
rider_kg = 80.0
circumference_m = 2.16
rolling_coefficient = 0.012
drag_area_m2 = 0.60

[[setup]]
name = "first"
motor = "hub"
controller = "sine"
pack = "p14"
tune = "town"
bike = "courier"

[[setup]]
name = "no. 2"
motor = "hub"
pack = "v1.5"
tune = "town"
bike = "courier"
winding_c = 80.0
"""


def refusal(text, **how):
    with pytest.raises(JobError) as caught:
        parse_job(text, name="shop.toml", **how)
    return caught.value


WRONG = [
    # old, new, the line it gives
    (
        "resistance_ohm = 0.16",
        "resistance_mohm = 160",
        "shop.toml: [motor.hub] resistance_mohm = 160: unknown field, did you mean resistance_ohm "
        "(Winding resistance, terminal to terminal at 20 °C, Ω)?",
    ),
    (
        "resistance_ohm = 0.16",
        "resistance_ohm = -0.16",
        "shop.toml: [motor.hub] resistance_ohm = -0.16: must be at least 0 "
        "(Winding resistance, terminal to terminal at 20 °C, Ω)",
    ),
    ("resistance_ohm = 0.16", "resistance_ohm = nan", "= nan: must be a finite number"),
    ("resistance_ohm = 0.16", "resistance_ohm = inf", "= inf: must be a finite number"),
    ("resistance_ohm = 0.16", "resistance_ohm = 1e999", "must be a finite number"),
    ("resistance_ohm = 0.16", "resistance_ohm = true", "= true: must be a number"),
    ("resistance_ohm = 0.16", 'resistance_ohm = "0.16"', '= "0.16": must be a number'),
    ("resistance_ohm = 0.16", "resistance_ohm = 2024-01-01", "= 2024-01-01: must be a number"),
    ("resistance_ohm = 0.16", "resistance_ohm = [1, 2]", "= [1, 2]: must be a number"),
    ("resistance_ohm = 0.16", f"resistance_ohm = 1{'0' * 400}", "must be a number"),
    ("resistance_ohm = 0.16", f"resistance_ohm = 1{'0' * 5000}", "shop.toml: is not valid TOML"),
    ("resistance_ohm = 0.16", "", "[motor.hub] resistance_ohm: is missing (Winding resistance"),
    ("kv_rpm_per_v = 8.2", "kv_rpm_per_v = 0", "kv_rpm_per_v = 0: must be above 0"),
    ("kv_rpm_per_v = 8.2", "kv = 8.2", "kv = 8.2: unknown field, did you mean kv_rpm_per_v"),
    ("kv_rpm_per_v = 8.2", "torque = 8.2\nkv_rpm_per_v = 8.2", "unknown field; allowed are"),
    (
        "inductance_q_uh = 340.0",
        "inductance_q_uh = 300",
        "[motor.hub] inductance_q_uh = 300.0: must be at least inductance_d_uh (310 µH)",
    ),
    ("series = 14", "series = 0", "[pack.p14] series = 0: must be at least 1 (Cells in series)"),
    ("series = 14", "series = -3", "series = -3: must be at least 1"),
    ("series = 14", "series = 14.5", "series = 14.5: must be a whole number"),
    ("series = 14", "series = true", "series = true: must be a whole number"),
    ("series = 14", "series = 99999999999999999999", "must be at most 10000"),
    ("series = 14", "series = 14\nopen_circuit_v = 52", "a pack is either cells"),
    ('cell = "nmc-21700"', 'cell = "nmc"', f"must be one of {', '.join(cell_names())}"),
    ('"vector"', '"vektor"', '= "vektor": must be "vector" or "torque"'),
    ("mtpa = true", "mtpa = 1", "mtpa = 1: must be true or false"),
    ("[bike.courier]", "[bike]", "must be a table, as under [bike.NAME]"),
    ("[goals]", "[goal]", "goal = a table: unknown field, did you mean goals"),
    ("speed_kmh = 20.0 }", "speed_mph = 12.0 }", "[goals] hill.speed_mph = 12.0: unknown field"),
    ("speed_kmh = 20.0 }", "speed_kmh = -1 }", "[goals] hill.speed_kmh = -1: must be at least 0"),
    (
        'pack = "p14"',
        'pack = "p15"',
        'shop.toml: [[setup]] "first" pack = "p15": there is no [pack.p15]; the file has p14, v1.5',
    ),
    (
        'tune = "town"\nbike = "courier"\nwinding',
        'tune = "twon"\nbike = "courier"\nwinding',
        "town?",
    ),
    ('controller = "sine"\n', 'controller = "square"\n', "there is no [controller.square]"),
    ('name = "no. 2"', 'name = "first"', '[[setup]] "first" name = "first": is the name of an'),
    ('name = "no. 2"', 'name = ""', "must not be empty"),
    ('name = "no. 2"', 'name = "no.\\n2"', "must be one line of text"),
    ("winding_c = 80.0", "winding_c = -260", "the winding's resistance negative"),
    ("winding_c = 80.0", "magnet_c = 990", 'setup]] "no. 2" magnet_c = 990.0: leaves the magnets'),
    ("winding_c = 80.0", "state_of_charge = 1.5", "state_of_charge = 1.5: must be at most 1"),
    ("winding_c = 80.0", "state_of_charge = 80", "Charge of the pack, 0 empty to 1 full"),
    ("bike_mass_kg = 34.0\nrider_kg = 80.0", "bike_mass_kg = 0\nrider_kg = 0", "weigh nothing"),
    ('"typical: a', '"from a', "must begin with one of measured, maker, typical, invented"),
    ('source = "typ', 'sources.serie = "typ', "sources.serie = "),
    ('source = "typ', 'tolerance.serie = 0.1\nsource = "typ', "this table has no field serie"),
    ('source = "typ', 'tolerance.cell = 0.1\nsource = "typ', "cell is not a number"),
    ('source = "typ', 'tolerance.series = -1\nsource = "typ', "tolerance.series = -1: must be at"),
    ('format = "rimforce-job-1"', "", 'format: must be "rimforce-job-1"'),
    ('format = "rimforce-job-1"', 'format = "rimforce-job-9"', '= "rimforce-job-9": must be'),
    ("[motor.hub]", "[motor.hub]\nprofile = 3", "[motor.hub] profile = 3: must be text in quotes"),
    ("[motor.hub]", '[motor.hub]\nprofile = "nix"', 'profile = "nix": must be a packaged profile'),
    (
        "[motor.hub]",
        '[motor."a\\nb"]\nx = 1\n[motor.hub]',
        '[motor."a\\nb"] x = 1: unknown field',
    ),
    ("[motor.hub]", f"[motor.{'k' * 900}]\nx = 1\n[motor.hub]", "kkk…] x = 1: unknown field"),
]


@pytest.mark.parametrize(("old", "new", "line"), WRONG)
def test_what_is_said(old, new, line):
    assert old in GOOD
    error = refusal(GOOD.replace(old, new, 1))
    assert line in str(error)
    assert all(str(problem).startswith("shop.toml") for problem in error.problems)
    assert all("\n" not in str(problem) for problem in error.problems)


def test_the_needed_field_a_misspelling_stands_for_is_not_reported_twice():
    error = refusal(GOOD.replace("resistance_ohm = 0.16", "resistance_mohm = 160"))
    assert len(error.problems) == 1


def test_several_wrong_fields_give_a_line_each_and_ten_at_most():
    error = refusal(GOOD.replace("series = 14", "series = 0").replace("34.0", "-1"))
    assert len(str(error).splitlines()) == len(error.problems) == 2
    many = "".join(f"x{number} = 1\n" for number in range(25))
    lines = str(refusal(GOOD.replace("[motor.hub]", f"[motor.hub]\n{many}"))).splitlines()
    assert len(lines) == 11
    assert lines[-1] == "… and 15 more"


def test_a_problem_is_where_value_message():
    assert refusal(GOOD.replace("series = 14", "series = 0")).problems == (
        Problem("shop.toml: [pack.p14] series", "0", "must be at least 1 (Cells in series)"),
    )


def test_missing_parts():
    lines = str(refusal('format = "rimforce-job-1"'))
    for place in ("[motor]", "[pack]", "[tune]", "[bike]", "[[setup]]"):
        assert f"shop.toml: {place}: is missing" in lines


def test_toml_round_trip():
    job = parse_job(GOOD)
    again = parse_job(dump_job(job))
    assert again == job
    assert dump_job(again) == dump_job(job)
    assert dump_job(job).startswith('format = "rimforce-job-1"\ntitle = "Bench"\n')


def test_what_was_left_out_stays_out():
    assert "rider_power_w" not in dump_job(parse_job(GOOD))
    assert "[conditions]" not in dump_job(parse_job(GOOD))


def test_json_is_the_same_tree():
    job = parse_job(GOOD)
    assert parse_job(json.dumps(job.tree())) == job
    assert parse_job(json.dumps(job.tree()), kind="json") == job


@pytest.mark.parametrize(
    ("path", "value", "read"),
    [
        ("pack.p14.series", 16, lambda job: job.pack["p14"].series),
        ("pack.v1.5.open_circuit_v", 50.0, lambda job: job.pack["v1.5"].open_circuit_v),
        (("pack", "v1.5", "open_circuit_v"), 50.0, lambda job: job.pack["v1.5"].open_circuit_v),
        ("setup.no. 2.pack", "p14", lambda job: job.setup[1].pack),
        ("setup.1.pack", "p14", lambda job: job.setup[1].pack),
        (("setup", 0, "winding_c"), 90.0, lambda job: job.setup[0].winding_c),
        ("conditions.air_c", 5.0, lambda job: job.conditions.air_c),
        ("goals.hill.grade_percent", 5.0, lambda job: job.goals.hill.grade_percent),
        ("pack.p14.tolerance.series", 0.1, lambda job: job.pack["p14"].tolerance["series"]),
        ("compare_to", "no. 2", lambda job: job.compare_to),
        ("tune.town.power_cap_w", 900, lambda job: job.tune["town"].power_cap_w),
        ("motor.hub.profile", "demo-mid-drive", lambda job: job.motor["hub"].profile),
    ],
)
def test_replace(path, value, read):
    job = parse_job(GOOD)
    before = dump_job(job)
    assert read(job.replace(path, value)) == value
    assert dump_job(job) == before


def test_replace_takes_out_and_adds_whole_tables():
    job = parse_job(GOOD)
    assert job.replace("setup.0.controller", None).setup[0].controller is None
    assert [setup.name for setup in job.replace("setup.no. 2", None).setup] == ["first"]
    spare = job.tree()["pack"]["p14"]
    assert job.replace("pack.spare", spare).pack["spare"] == job.pack["p14"]
    rows = [*job.tree()["setup"], {**job.tree()["setup"][0], "name": "third"}]
    assert [setup.name for setup in job.replace("setup", rows).setup] == ["first", "no. 2", "third"]


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        ("pack.p14.series", 0, "[pack.p14] series = 0: must be at least 1"),
        ("pack.p14.seriez", 3, "did you mean series"),
        ("pack.p14.series.deep", 3, "no such field"),
        ("setup.third.pack", "p14", "none of that name or number"),
        ("setup.-1.pack", "p14", "none of that name or number"),
        ("pack.p14", None, "there is no [pack.p14]"),
        ("format", None, "format"),
        ((), 3, "names no place"),
    ],
)
def test_replace_refuses(path, value, message):
    with pytest.raises(JobError) as caught:
        parse_job(GOOD).replace(path, value)
    assert message in str(caught.value)


def test_rigs():
    job = parse_job(GOOD)
    first, second = job.rigs()
    assert (first.name, second.name) == ("first", "no. 2")
    assert first.controller.max_input_v == 90.0
    assert second.controller.max_input_v is None
    assert (second.winding_c, second.magnet_c, second.state_of_charge) == (80.0, 20.0, 1.0)
    assert first.mass_kg == 114.0
    assert job.rig("no. 2") == second
    with pytest.raises(JobError, match="no such setup"):
        job.rig("third")


def test_sources():
    pack = parse_job(GOOD).pack["p14"]
    assert pack.source_kind("series") == "typical"
    assert parse_job(GOOD).tune["town"].source_kind("phase_current_a") is None


def _tables(schema):
    return {"Job": schema, **schema["$defs"]}


def test_schema_explains_every_field():
    for name, table in _tables(job_schema()).items():
        for field, about in table["properties"].items():
            assert about.get("description"), f"{name}.{field}"
    json.dumps(job_schema())


def test_units_in_names_are_units_of_fields():
    # A field whose name ends in a unit says the same unit to people.
    endings = {"_v": "V", "_a": "A", "_w": "W", "_kmh": "km/h", "_kg": "kg", "_c": "°C", "_m": "m"}
    for table in _tables(job_schema()).values():
        for field, about in table["properties"].items():
            for ending, unit in endings.items():
                if field.endswith(ending) and "per" not in field.split("_"):
                    assert about["unit"] == unit, field


def test_a_profile_alone_satisfies_the_schema():
    motor = job_schema()["$defs"]["Motor"]
    assert {"required": ["profile"]} in motor["anyOf"]
    assert "required" not in motor


def test_the_demo_is_the_default():
    job = load_job()
    assert job.compare_to == "as delivered"
    assert [rig.pack.series for rig in job.rigs()] == [10, 13, 16, 20, 20, 13]
    assert parse_job(dump_job(job)) == job


def test_the_demo_says_that_it_is_invented():
    for rig in load_job().rigs():
        for part in (rig.motor, rig.controller, rig.pack, rig.tune, rig.bike, rig.conditions):
            for field in part.model_fields_set - {"source", "sources", "tolerance", "profile"}:
                expected = "typical" if field == "cell" else "invented"
                assert part.source_kind(field) == expected, f"{rig.name}: {field}"


def test_comparing_to_a_setup_that_is_not_there_is_no_error():
    text = dump_job(load_job()).replace("as delivered", "nobody", 1)
    assert parse_job(text).compare_to == "nobody"
