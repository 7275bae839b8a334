"""Back-EMF with the drive off: for the magnets as set and the coldest, one number everywhere."""

import csv
import json

import pytest

from curves import load_job, parse_job
from curves.cli import main
from curves.commands.people import digits
from curves.setups.stack import stack
from curves.steady.balance import top_speed
from curves.studies.results import OFFERED, results_of
from curves.studies.weakening import weakening_sweep

WARM_C, AIR_C = 90.0, 5.0
COLDER = (1 - 0.0011 * (AIR_C - 20)) / (1 - 0.0011 * (WARM_C - 20))
"""The demonstration's magnets lose 0.0011 of their flux a kelvin."""


@pytest.fixture
def warm(tmp_path):
    """The demonstration with warm magnets on a cold day, as a file."""
    tree = load_job().tree()
    tree["conditions"] = {**tree.get("conditions", {}), "air_c": AIR_C}
    for setup in tree["setup"]:
        setup["magnet_c"] = WARM_C
    path = tmp_path / "warm.json"
    path.write_text(json.dumps(tree), encoding="utf-8")
    return path


def told(capsys, *arguments):
    assert main([str(x) for x in arguments]) == 0
    return capsys.readouterr().out


def test_top_speed_gives_both_and_shows_the_larger(warm, tmp_path, capsys):
    rigs = parse_job(warm.read_text(encoding="utf-8"), kind="json").rigs()
    top = top_speed(rigs)
    assert top.drive_off_emf_cold_v == pytest.approx(COLDER * top.drive_off_emf_v, rel=1e-12)
    table = tmp_path / "top.csv"
    document = json.loads(told(capsys, "top-speed", warm, "--json"))
    told(capsys, "top-speed", warm, "--csv", table)
    shown = told(capsys, "top-speed", warm)
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    for k, (setup, row) in enumerate(zip(document["setups"], rows, strict=True)):
        for name in ("drive_off_emf_v", "drive_off_emf_cold_v"):
            wanted = float(getattr(top, name)[k])
            assert setup[name] == wanted
            assert float(row[name]) == pytest.approx(wanted, rel=1e-6)
        assert setup["drive_off"]["emf_v"] == pytest.approx(setup["drive_off_emf_cold_v"])
    line = next(x for x in shown.splitlines() if rigs[0].name in x)
    assert f" {digits(float(top.drive_off_emf_cold_v[0]), 2)}" in line


def test_weakening_gives_both_and_shows_the_larger(warm, tmp_path, capsys):
    table = tmp_path / "weakening.csv"
    asked = ("weakening", warm, "--amps", "0:40:20")
    rows = json.loads(told(capsys, *asked, "--json"))["rows"]
    told(capsys, *asked, "--csv", table)
    shown = told(capsys, *asked)
    kept = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    (rig, *_) = parse_job(warm.read_text(encoding="utf-8"), kind="json").rigs()
    sweep = weakening_sweep(rig, [0.0, 20.0, 40.0], heat=False)
    for k, (row, line) in enumerate(zip(rows, kept, strict=True)):
        assert row["drive_off_emf_v"] == sweep.top.drive_off_emf_v[k]
        assert row["drive_off_emf_cold_v"] == sweep.top.drive_off_emf_cold_v[k]
        assert row["drive_off_emf_cold_v"] == pytest.approx(COLDER * row["drive_off_emf_v"])
        assert float(line["drive_off_emf_cold_v"]) == pytest.approx(row["drive_off_emf_cold_v"])
        assert digits(row["drive_off_emf_cold_v"]) in shown
    # The rating is held against the same volts.
    volts = next(r for r in sweep.ratings if r.unit == "V")
    assert volts.asked == pytest.approx(sweep.top.drive_off_emf_cold_v, rel=1e-12)


def test_studies_give_both_in_the_gear_of_top_speed(warm):
    rigs = parse_job(warm.read_text(encoding="utf-8"), kind="json").rigs()
    # Wound for the short gear: the tall one cannot be pulled up to its speed.
    geared = rigs[0].bike.model_copy(update={"gear_ratios": (0.5, 2.0)})
    rigs = [rigs[0], rigs[0].__class__(**{**vars(rigs[0]), "bike": geared})]
    top = top_speed(rigs)
    names = ["drive_off_emf_v", "drive_off_emf_cold_v"]
    own, cold = results_of(stack(rigs), names).T
    assert own == pytest.approx(top.drive_off_emf_v, rel=1e-9)
    assert cold == pytest.approx(top.drive_off_emf_cold_v, rel=1e-9)
    assert "drive_off_emf_cold_v" in OFFERED
    assert "drive_off_emf_v" not in OFFERED
