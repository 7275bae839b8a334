"""“One more … here buys …”: the words agree with the numbers they are made from."""

import math

import numpy as np
import pytest

from curves import load_job
from curves.balance import top_speed
from curves.labels import label_of, possessive
from curves.studies.levers import LEVERS, bought, buys, levers_in, measure_next
from curves.studies.sensitivity import Influence, Sensitivity, sensitivity
from curves.units import AS_WRITTEN, Units

ZERO = {x.gain: 0.0 for x in LEVERS}
UNIT = "km/h"


def test_what_is_bought_is_slope_times_step_the_most_telling_first():
    gain = ZERO | {"kmh_per_w": 0.02, "kmh_per_m2": -30.0, "kmh_per_kg": -0.001}
    found = bought(gain)
    assert [(x.lever.gain, x.gain) for x in found] == [
        ("kmh_per_w", pytest.approx(2.0)),
        ("kmh_per_m2", pytest.approx(1.5)),
    ]
    miles = bought(gain, Units.of(["mph"]))
    assert miles[0].gain == pytest.approx(2.0 / 1.609344)


def test_a_source_pack_counts_volts_and_one_of_cells_counts_cells():
    source = ZERO | {"kmh_per_pack_v": 0.9, "kmh_per_series_cell": math.nan}
    cells = ZERO | {"kmh_per_pack_v": 0.9, "kmh_per_series_cell": 3.0}
    assert [x.lever.gain for x in bought(source)] == ["kmh_per_pack_v"]
    assert [x.lever.gain for x in bought(cells)] == ["kmh_per_series_cell"]


def test_the_sentence_names_what_pays_and_says_where_volts_do_not():
    gain = ZERO | {"kmh_per_w": 0.014, "kmh_per_series_cell": -0.01}
    assert buys(gain, ("power cap",)) == "100 W more here buys 1.4 km/h; more volts buy nothing."
    gain = ZERO | {"kmh_per_series_cell": 3.41, "kmh_per_pack_v": 0.83, "kmh_per_weakening_a": 0.12}
    assert buys(gain, ("voltage",)) == (
        "One more cell in series here buys 3.4 km/h, "
        "one more ampere of field weakening buys 0.12 km/h."
    )


def test_what_buys_nothing_is_told_in_words():
    dead = dict.fromkeys(ZERO, math.nan)
    assert "rider alone holds this speed" in buys(dead, ())
    assert buys(ZERO, ("speed cap",)) == "Held by the speed cap: nothing else buys speed here."
    assert "no speed worth naming" in buys(ZERO, ())
    assert buys(ZERO, ("coasting",)).startswith("It rolls faster than the motor drives it.")
    # A gain without end is null: nothing is claimed of volts then.
    endless = ZERO | {"kmh_per_pack_v": math.nan, "kmh_per_series_cell": math.nan}
    assert "volts" not in buys(endless | {"kmh_per_w": 1.0}, ("pack current",))


def test_measure_next_names_the_largest_that_matters():
    found = Sensitivity("one", (Influence("bike.drag_area_m2", 0.15, -2.13),))
    assert measure_next(found) == (
        "Measure the bike’s drag area next: its ± 15 % alone moves this top speed by ± 2.1 km/h."
    )
    assert measure_next(found, units=Units.of(["mph"])).endswith("± 1.3 mph.")
    assert measure_next(Sensitivity("one", ())) is None
    assert measure_next(Sensitivity("one", (Influence("tune.power_cap_w", 0.1, 0.01),))) is None


def test_the_demo_says_what_its_numbers_say():
    rigs = load_job().rigs()
    top = top_speed(rigs)
    for k, found in enumerate(sensitivity(rigs, top)):
        gain = {unit: float(x[k]) for unit, x in top.gain.items()}
        best = max(LEVERS[1:], key=lambda x: np.nan_to_num(gain[x.gain] * x.step))
        assert best.change.lower() in buys(gain, top.limited_by[k]).lower()
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
