"""A first job from the short form: whole, riding, and honest about what is typical."""

import itertools

import numpy as np
import pytest

from curves.cautions.law import CLASSES
from curves.intake import BIKES, CHEMISTRIES, POSTURES, TYRES, Asked, counts_compared, first_job
from curves.parts.job import profile_names
from curves.parts.pack import cell_curve
from curves.steady.balance import top_speed
from curves.units import AS_WRITTEN, Units
from dashboard.shell.intake_form import SAID, UNITS, asked, buys, form, wrong


def test_nothing_is_demanded_and_the_first_job_rides():
    job = first_job(Asked())
    found = top_speed(job.rigs())
    assert np.all(found.speed > 5)
    assert [setup.name for setup in job.setup] == ["13 cells", "14 cells"]
    assert job.goals.range_km == 30.0
    assert job.goals.hill is not None


def test_volts_are_counts_of_cells_by_chemistry():
    # Common practice: “48 V” is 13 cells of NMC, 15 or 16 of LFP.
    assert CHEMISTRIES["NMC"].counts[48] == (13,)
    assert CHEMISTRIES["LFP"].counts[48] == (15, 16)
    for kind in CHEMISTRIES.values():
        nominal = cell_curve(kind.curve).nominal_v
        for volts, counts in kind.counts.items():
            # A label rounds: every count is within a cell and a half of it.
            assert all(abs(n * nominal - volts) < 1.51 * nominal for n in counts)
    assert counts_compared("LFP", 48) == (15, 16, 19)
    assert counts_compared("LFP", 52) == (16, 19)
    assert counts_compared("NMC", 72) == (20,)


@pytest.mark.parametrize(
    ("chemistry", "motor"), list(itertools.product(CHEMISTRIES, profile_names()))
)
def test_every_choice_makes_a_job(chemistry, motor):
    choices = itertools.zip_longest(BIKES, POSTURES, TYRES, [None, *CLASSES])
    for bike, posture, tyre, road_class in choices:
        asked = Asked(
            motor=motor,
            chemistry=chemistry,
            bike=bike or "city",
            posture=posture or "upright",
            tyre=tyre or "balloon",
            road_class=road_class,
            hill_percent=0.0 if bike == "folding" else 8.0,
        )
        job = first_job(asked)
        assert (job.goals.hill is None) == (bike == "folding")
        cap = job.tune["tune"].speed_cap_kmh
        assert (cap is None) == (road_class is None)


def test_the_form_asks_in_the_units_read_and_keeps_what_is_left_alone():
    read = Units.of(["lb", "mph"])
    told = str(form(read))
    assert "Rider, lb" in told
    assert "48 V: 13 NMC, 15 or 16 LFP cells" in told
    shown = round(80 / 0.45359237, 3)  # a pound by definition
    answers = {"rider_kg": shown, "budget": "", "volts": "52", "road_class": "", "bike": "cargo"}
    assert asked(answers, read) == Asked(bike="cargo", volts=52)
    assert asked({"rider_kg": 200}, read).rider_kg == pytest.approx(200 * 0.45359237)
    with pytest.raises(ValueError, match="Rider must be"):
        asked({"rider_kg": "heavy"}, read)


@pytest.mark.parametrize("empty", ["", None, "-", "heavy", True, -1, float("nan"), 1e300])
def test_an_emptied_or_unreadable_number_is_no_usual_one(empty):
    numbers = [field for field in SAID if field in UNITS]
    for field in numbers:
        found = wrong({field: empty}, AS_WRITTEN)
        if field == "budget" and empty in ("", None):
            assert found == {}
            continue
        assert list(found) == [field]
        assert found[field].startswith("must be a number, 0 or more")
        with pytest.raises(ValueError, match="must be a number"):
            asked({field: empty}, AS_WRITTEN)
    assert wrong({"rider_kg": ""}, AS_WRITTEN)["rider_kg"].endswith("; 80 kg is usual")


def test_typical_values_say_so_and_carry_a_tolerance():
    job = first_job(Asked(posture="crouched"))
    bike, pack = job.bike["bike"], job.pack["cells-13"]
    for name in ("drag_area_m2", "rolling_coefficient", "bike_mass_kg"):
        assert bike.source_of(name).startswith("typical")
        assert 0 < bike.tolerance[name] <= 0.5
    assert bike.drag_area_m2 == 0.32
    assert pack.tolerance["cell_resistance_mohm"] > 0
    # What the person typed is nobody's typical value.
    assert "rider_kg" not in bike.sources


def test_the_first_pack_bears_its_current_and_the_way():
    for told in (Asked(), Asked(range_km=90.0), Asked(pack_a=60.0)):
        job = first_job(told)
        for pack in job.pack.values():
            assert pack.continuous_current_a >= told.pack_a
            wh = pack.series * 3.6 * pack.parallel * pack.cell_capacity_ah
            assert wh >= 15.0 * told.range_km


@pytest.mark.parametrize(
    ("told", "price", "said"),
    [
        # Derived: 13 × 4 NMC cells of 3.6 V and 4.8 Ah hold 899 Wh; at 500 a kWh some 450.
        (Asked(), 450.0, "450 estimated for 899 Wh"),
        (Asked(budget=450.0), 450.0, "within the budget of 450"),
        (Asked(budget=449.0), 450.0, "over the budget of 449"),
        (
            Asked(price_per_kwh=400.0),
            360.0,
            "typical: from the price of a kWh typed in",
        ),
    ],
)
def test_a_pack_says_what_it_costs_and_whether_the_budget_bears_it(told, price, said):
    pack = first_job(told).pack["cells-13"]
    assert pack.price == price
    assert said in pack.source_of("price")


def test_without_a_price_a_pack_has_none():
    assert first_job(Asked(price_per_kwh=0.0, budget=300.0)).pack["cells-13"].price is None


def test_the_form_says_what_the_budget_buys():
    # Derived: 30 km at 15 Wh a km take 450 Wh; at 500 a kWh 200 buy 400 Wh and 225 are needed.
    read = Units.of(["mph"])
    assert "a pack for about 225, give or take 30 %" in buys(Asked(), Units())
    assert buys(Asked(budget=200.0), read).startswith(
        "200 buy about 400 Wh; 19\u00a0mi need some 450"
    )
    assert "too little" in buys(Asked(budget=200.0), read)
    assert "enough" in buys(Asked(budget=225.0), read)
    assert buys(asked({"price_per_kwh": 0}, read), read).endswith("need some 450 Wh.")
