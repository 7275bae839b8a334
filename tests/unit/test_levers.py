"""“One more … here buys …”: the words agree with the numbers they are made from."""

import math
import re

import numpy as np
import pytest

from curves import load_job
from curves.parts.labels import label_of, possessive
from curves.steady.balance import top_speed
from curves.studies.levers import LEVERS, bought, levers_in, tried
from curves.studies.sensitivity import Influence, Sensitivity, sensitivity
from curves.units import AS_WRITTEN, KMH, Units
from curves.words.levers import buys
from curves.words.sensitivity import measure_next

ZERO = {x.name: 0.0 for x in LEVERS} | {"pack_v": math.nan}
UNIT = "km/h"


def test_what_is_bought_is_told_the_most_telling_first():
    gained = ZERO | {"w": 2.0, "m2": 1.5, "kg": 0.01}
    assert [(x.lever.name, x.gain) for x in bought(gained)] == [("w", 2.0), ("m2", 1.5)]
    miles = bought(gained, Units.of(["mph"]))
    assert miles[0].gain == pytest.approx(2.0 / 1.609344)


def test_a_source_pack_counts_volts_and_one_of_cells_counts_cells():
    job = load_job()
    stiff = job.replace(("pack", "cells-10"), {"open_circuit_v": 36.0, "resistance_ohm": 0.1})
    source, cells = tried(stiff.rigs()[:2])
    assert source["pack_v"] > 0.1
    assert math.isnan(source["series_cell"])
    assert math.isnan(cells["pack_v"])
    assert math.isfinite(cells["series_cell"])


def test_the_sentence_names_what_pays_and_says_where_volts_do_not():
    gained = ZERO | {"w": 1.4, "series_cell": -0.01}
    assert buys(gained, ("power cap",)) == "100 W more here buys 1.4 km/h; more volts buy nothing."
    gained = ZERO | {"series_cell": 3.41, "weakening_a": 0.12}
    assert buys(gained, ("voltage",)) == (
        "One more cell in series here buys 3.4 km/h, "
        "one more ampere of field weakening buys 0.12 km/h."
    )
    source = ZERO | {"series_cell": math.nan, "pack_v": 0.0, "w": 1.0}
    assert buys(source, ("pack current",)).endswith("; more volts buy nothing.")


def test_what_buys_nothing_is_told_in_words():
    dead = dict.fromkeys(ZERO, math.nan)
    assert "rider alone holds this speed" in buys(dead, ())
    assert buys(ZERO, ("speed cap",)) == "Held by the speed cap: nothing else buys speed here."
    assert "no speed worth naming" in buys(ZERO, ("voltage",))
    assert buys(ZERO, ("coasting",)).startswith("It rolls faster than the motor drives it.")


def test_measure_next_names_the_largest_that_matters():
    found = Sensitivity("one", 40.0, (Influence("bike.drag_area_m2", 0.15, 2.2, -2.06),))
    assert measure_next(found) == (
        "Measure the bike’s drag area next: its ± 15 % alone moves this top speed by ± 2.1 km/h."
    )
    assert measure_next(found, units=Units.of(["mph"])).endswith("± 1.3 mph.")
    assert measure_next(Sensitivity("one", 40.0, ())) is None
    little = Influence("tune.power_cap_w", 0.1, -0.01, 0.01)
    assert measure_next(Sensitivity("one", 40.0, (little,))) is None


def test_measure_next_tells_both_sides_where_they_differ():
    def said(less, more):
        return measure_next(Sensitivity("one", 7.0, (Influence("bike.rider_kg", 0.2, less, more),)))

    assert said(5.0, -1.0).endswith("its ± 20 % alone takes this top speed from 6.0 to 12 km/h.")
    assert said(1.7, -7.0).endswith("takes this top speed from “cannot start” to 8.7 km/h.")


JOB = load_job()


@pytest.mark.parametrize("grade", [0.0, 13.0])
@pytest.mark.parametrize(
    ("lever", "changes"),
    [
        ("pack_a", {"tune.{tune}.pack_current_a": 1, "pack.{pack}.peak_current_a": 1,
                    "controller.{controller}.max_pack_current_a": 1}),
        ("phase_a", {"tune.{tune}.phase_current_a": 10,
                     "controller.{controller}.max_phase_current_a": 10}),
        ("weakening_a", {"tune.{tune}.field_weakening_a": 1}),
        ("w", {"tune.{tune}.power_cap_w": 100}),
        ("m2", {"bike.{bike}.drag_area_m2": -0.05}),
        ("kg", {"bike.{bike}.rider_kg": -10}),
    ],
)  # fmt: skip
def test_what_is_bought_is_the_difference_of_two_jobs(grade, lever, changes):
    job = JOB.replace("conditions.grade_percent", grade)
    for name, gained in zip([s.name for s in job.setup], tried(job.rigs()), strict=True):
        setup = next(s for s in job.setup if s.name == name)
        other = job
        for place, step in changes.items():
            kind, part, field = place.format(**setup.model_dump()).split(".")
            value = getattr(getattr(job, kind)[part], field)
            if value is not None:
                other = other.replace((kind, part, field), value + step)
        if other == job:
            assert math.isnan(gained[lever])
            continue
        before, after = (float(top_speed([x.rig(name)]).speed[0]) / KMH for x in (job, other))
        # Both are whole solutions, each to the solver's 1e-12 of a speed of some 10 km/h.
        assert gained[lever] == pytest.approx(after - before, abs=1e-9)


def test_nothing_that_is_said_is_faster_than_the_motor_can_turn():
    """Where force and load nearly touch, a slope says 96 km/h for 10 kg less."""
    steep = JOB.replace("conditions.grade_percent", 13.0)
    rigs = steep.rigs()
    top = top_speed(rigs)
    for k, (gained, found) in enumerate(zip(tried(rigs), sensitivity(rigs), strict=True)):
        said = [buys(gained, top.limited_by[k]), measure_next(found)]
        figures = [float(x) for x in re.findall(r"(?:buys|by ±|to) ([\d.]+) km/h", " ".join(said))]
        assert figures
        assert max(figures) < top.no_load_speed[k] / KMH


def test_the_demo_says_what_its_numbers_say():
    rigs = load_job().rigs()
    top = top_speed(rigs)
    for k, (found, gained) in enumerate(zip(sensitivity(rigs), tried(rigs), strict=True)):
        best = max(LEVERS[1:], key=lambda x: np.nan_to_num(gained[x.name]))
        assert best.change.lower() in buys(gained, top.limited_by[k]).lower()
        assert found.influences[0].input.split(".")[0] in measure_next(found)


def test_labels_within_a_sentence():
    assert possessive("motor.kv_rpm_per_v") == "the motor’s Kv"
    assert possessive("pack.bms_cutoff_v") == "the pack’s BMS cut-off"
    assert label_of("bike.drag_area_m2") == "Bike: drag area"
    assert label_of("motor.kv_rpm_per_v") == "Motor: Kv"


def test_mass_moves_by_a_round_step_of_the_unit_read():
    # A pound is 0.45359237 kg by definition.
    lighter = levers_in(Units.of(["lb"]))[-1]
    assert lighter.change == "20 lb less"
    assert lighter.step == pytest.approx(-20 * 0.45359237)
    assert levers_in(AS_WRITTEN) == LEVERS


def test_volts_of_which_nothing_is_known_are_not_spoken_of():
    """As where one more volt lets the bike start no more: there is no number to compare."""
    known = dict.fromkeys((x.name for x in LEVERS), math.nan) | {"kg": -0.5}
    assert "volts" not in buys(known, ("low-voltage cut-off",))
