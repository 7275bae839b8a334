"""Which pack is enough: the sentence says what the numbers say, and no more."""

import re
from dataclasses import replace

import numpy as np
import pytest

from curves import Goals, load_job
from curves.numerics.normal import BAND
from curves.parts.job import build_job
from curves.parts.labels import NEARLY_EMPTY
from curves.steady.balance import top_speed
from curves.studies.enough import NOTICED
from curves.studies.spread import spread
from curves.units import KMH, MPH, Units
from curves.words.digits import BANDS
from curves.words.which_pack import which_pack


@pytest.fixture(scope="module")
def job():
    return load_job()


def speeds(rigs, charge=1.0):
    return top_speed([replace(r, state_of_charge=charge) for r in rigs]).speed / KMH


def test_the_demonstration(job):
    said = which_pack(job.rigs(), job.goals).headline
    full, empty = speeds(job.rigs()), speeds(job.rigs(), NEARLY_EMPTY)
    assert said == (
        f"With 1,200 W, 13 cells are enough when full, {full[1]:.0f} ± 3 km/h, and 16 when nearly "
        f"empty, where 13 fall to {empty[1]:.0f}; 20 add nothing until the cap is raised."
    )


def test_enough_is_the_lowest_within_what_is_noticed(job):
    """By the numbers: one pack lower loses more than a rider notices, one higher gains less."""
    full = speeds(job.rigs()) * KMH
    assert full[1] > full[:4].max() - NOTICED
    assert full[0] < full[:4].max() - NOTICED


def test_enough_says_for_what(job):
    said = "Enough is for top speed {}: no other pack here is {} faster."
    assert said.format("on the level", "1 km/h") in which_pack(job.rigs()).more
    miles = which_pack(job.rigs(), units=Units.of(["mph"])).more
    assert said.format("on the level", "0.62 mph") in miles
    hill = job.replace("conditions.grade_percent", 3.0)
    assert said.format("up 3 %", "1 km/h") in which_pack(hill.rigs()).more
    assert not any("Enough" in x for x in which_pack(job.rigs()[:1]).more)


def test_the_band_is_that_of_the_tolerances(job):
    rig = job.rig("13 cells")
    unsure = spread([rig], lambda b: _top(b))
    half = BAND * unsure[0] / KMH
    assert f"± {half:.0f} km/h" in which_pack(job.rigs()).headline


def _top(batch):
    from curves.steady.balance import batch_top_speed

    return batch_top_speed(batch, ("",) * batch.size).speed


def test_without_tolerances_there_is_no_band(job):
    tree = job.tree()
    for kind in ("motor", "controller", "pack", "tune", "bike"):
        for table in tree[kind].values():
            table.pop("tolerance", None)
            table["source"] = "measured: for this test"
            table.pop("sources", None)
    from curves.parts.job import build_job

    answer = which_pack(build_job(tree, name="job").rigs())
    assert "±" not in answer.headline
    assert not any("±" in line for line in answer.more)


def test_more_volts_keep_helping_where_nothing_else_limits(job):
    lifted = job.replace("tune.town.power_cap_w", None)
    said = which_pack(lifted.rigs()).headline
    full = speeds(lifted.rigs())
    assert said.startswith(f"More volts keep helping: 20 cells reach {full[3]:.0f} ±")
    assert f"{full[3] - full[0]:.0f} km/h more than 10 cells" in said


def test_one_pack_enough_in_every_state(job):
    said = which_pack(job.replace("pack.cells-13.series", 17).rigs()).headline
    assert re.match(r"With 1,200 W, 16 cells are enough, 45 ± 3 km/h: 20 add nothing until", said)


def test_one_setup_alone(job):
    said = which_pack(job.rigs()[:1]).headline
    assert said.startswith("“as delivered” reaches 37 ± 2 km/h full and 29 nearly empty;")
    assert "voltage" in said


def test_no_setup_and_none_that_starts(job):
    assert which_pack(()).headline == "No setup is shown."
    steep = job.replace("conditions.grade_percent", 60.0)
    assert "None of these setups can start" in which_pack(steep.rigs()).headline


@pytest.mark.parametrize("grade", [9.0, 12.0, 13.0, 13.5, 14.0, 15.0, 20.0])
@pytest.mark.parametrize("cutoff", [None, 29.0, 36.0, 50.0])
def test_setups_that_cannot_start_are_no_number(job, grade, cutoff):
    steep = job.replace("conditions.grade_percent", grade)
    steep = steep.replace("tune.town.low_voltage_cutoff_v", cutoff)
    for rigs in (steep.rigs(), steep.rigs()[:1], steep.rigs()[:3]):
        answer = which_pack(rigs, steep.goals)
        assert "nan" not in " ".join((answer.headline, *answer.more)).lower()


def test_packs_that_cannot_start_are_not_compared(job):
    # Above what 10 cells hold at rest, below what 13 do.
    cut = job.replace("tune.town.low_voltage_cutoff_v", 45.0)
    said = which_pack(cut.rigs()).headline
    assert "10 cells" not in said
    assert "13 cells are enough when full" in said
    # Nearly empty, 13 cells are below the cut-off before they pull.
    assert "where 13 cannot start" in said


def test_setups_are_called_by_name_where_counts_do_not_tell(job):
    tree = job.replace("pack.cells-13.series", 16).rigs()
    said = which_pack(tree).headline
    assert "“16 cells” is enough" in said or "“13 cells” is enough" in said


def test_source_packs_have_no_cells(job):
    stiff = job
    for name, volts in (("cells-10", 36.0), ("cells-13", 48.0), ("cells-16", 60.0)):
        stiff = stiff.replace(("pack", name), {"open_circuit_v": volts, "resistance_ohm": 0.1})
    assert "“" in which_pack(stiff.rigs()[:3]).headline


def test_goals_are_scored(job):
    rigs = job.rigs()
    full = speeds(rigs)
    out = which_pack(rigs, Goals(top_speed_kmh=float(full.max()) + 5)).more
    assert any("out of reach of all" in line for line in out)
    easy = which_pack(rigs, Goals(top_speed_kmh=5.0)).more
    assert any("met full by all; nearly empty by all" in line for line in easy)


def test_the_hill_is_held_at_its_own_slope(job):
    hill = job.goals.hill
    steep = job.replace("conditions.grade_percent", hill.grade_percent)
    held = speeds(steep.rigs()) >= hill.speed_kmh
    (line,) = [x for x in which_pack(job.rigs(), job.goals).more if x.startswith("8 %")]
    assert ("held by all" in line) == bool(held.all())


def test_miles_an_hour(job):
    said = which_pack(job.rigs(), job.goals, units=Units.of(["mph"])).headline
    assert "km/h" not in said
    assert f"{speeds(job.rigs())[1] * KMH / MPH:.0f} ±" in said


def test_other_tunes_are_told_against_the_same_pack(job):
    more = which_pack(job.rigs()).more[0]
    full, empty = speeds(job.rigs()), speeds(job.rigs(), NEARLY_EMPTY)
    gains = np.round([full[4] - full[3], empty[4] - empty[3]])
    said = f"“20 cells, cap lifted” adds {gains[0]:.0f} km/h full and {gains[1]:.0f} nearly empty"
    assert said in more


def test_what_a_setup_is_called_adds_no_sentence(job):
    """Seen: a setup called good enough had “Enough is for …” said of it, and 9±1 a band."""
    tree = job.tree()
    for part in (x for kind in tree.values() if isinstance(kind, dict) for x in kind.values()):
        if isinstance(part, dict):
            for key in ("source", "sources", "tolerance"):
                part.pop(key, None)
    rig, sure = job.rigs()[0], build_job(tree, name="job").rigs()[0]
    for name in ("good enough", "9±1 A", "old (5 to 8)"):
        for one in (rig, sure):
            plain, named = (which_pack([replace(one, name=x)]) for x in ("it", name))
            assert named.more == tuple(x.replace("“it”", f"“{name}”") for x in plain.more)
    assert BANDS in which_pack([rig]).more
    assert BANDS not in which_pack([sure]).more
