"""Typed numbers of bikes that differ from their job in one known way."""

import dataclasses

import numpy as np
import pytest

from curves import JobError, load_job
from curves.measured.recheck import recheck
from curves.measured.typed import METERS, Typed, predictions
from curves.setups.stack import stack
from curves.words.recheck import sentences

ASKED = tuple(METERS)
AT = Typed(amperes=20.0, motor_speed_kmh=30.0, wh_speed_kmh=30.0)


@pytest.fixture(scope="module")
def rig():
    return load_job().rig("16 cells")


def read_from(rig, names=ASKED, **changes):
    """What a bike that differs from its job would show."""
    other = stack([rig]).vary({k.replace("__", "."): [v] for k, v in changes.items()})
    values = predictions(other, AT, ASKED)[0]
    read = {name: float(x) for name, x in zip(ASKED, values, strict=True) if name in names}
    return dataclasses.replace(AT, **read)


def test_a_bike_as_its_job_says_agrees(rig):
    found = recheck(rig, read_from(rig))
    assert all(check.agrees for check in found.checks)
    assert found.suspects == ()
    assert len(sentences(found)) == 5


@pytest.mark.parametrize(
    ("change", "value", "first"),
    [
        ("setup__state_of_charge", 0.55, {"setup.state_of_charge"}),
        ("pack__cell_resistance_mohm", 75.0, {"pack.cell_resistance_mohm"}),
        ("bike__drag_area_m2", 1.15, {"bike.drag_area_m2", "conditions.headwind_kmh"}),
        ("conditions__headwind_kmh", 12.0, {"conditions.headwind_kmh", "bike.drag_area_m2"}),
    ],
)
def test_the_likeliest_suspect_is_what_is_wrong(rig, change, value, first):
    found = recheck(rig, read_from(rig, **{change: value}))
    assert not all(check.agrees for check in found.checks)
    suspect = found.suspects[0]
    assert suspect.field in first
    # To first order: the needed value is near the true one.
    named = next(s for s in found.suspects if s.field == change.replace("__", "."))
    assert named.needed == pytest.approx(value, rel=0.35)
    assert named.explains > 0.8


def test_a_side_that_cannot_start_is_not_nothing():
    # Up 13 % this bike does 1.7 km/h; with 2 kg more it cannot start, with 10 kg less it does 8.7.
    steep = load_job().replace("conditions.grade_percent", 13.0).rig("13 cells")
    (check,) = recheck(steep, Typed(top_speed_kmh=8.0)).checks
    assert check.low == 0
    assert check.high > 8.0
    assert check.agrees


def test_suspects_are_in_order_of_likelihood(rig):
    found = recheck(rig, read_from(rig, bike__drag_area_m2=1.2))
    # All that are named explain something; the first is not beaten at its price by the next.
    assert all(suspect.explains >= 0.2 for suspect in found.suspects)
    assert found.suspects[0].explains > 0.8


def test_what_cannot_be_is_no_suspect(rig):
    # Volts of another pack: no charge, and no resistance above nothing, gives them.
    found = recheck(rig, Typed(resting_v=90.0, loaded_v=88.0, amperes=20.0))
    assert found.suspects == ()
    assert sentences(found)[-1].startswith("No single input explains it")


def test_one_number_is_enough(rig):
    found = recheck(rig, Typed(resting_v=60.0))
    assert [check.quantity for check in found.checks] == ["resting_v"]
    assert not found.checks[0].agrees
    assert found.suspects[0].field == "setup.state_of_charge"


def test_the_meters_own_uncertainty_counts(rig):
    exact = float(predictions(stack([rig]), AT, ("resting_v",))[0, 0])
    share, amount = METERS["resting_v"]
    u = share * exact + amount
    assert recheck(rig, Typed(resting_v=exact - 1.5 * u)).checks[0].agrees
    assert not recheck(rig, Typed(resting_v=exact - 1.8 * u)).checks[0].agrees


def test_what_the_job_cannot_predict_is_said(rig):
    tree = rig.motor.model_copy(update={"case_to_air_w_per_k": None})
    found = recheck(dataclasses.replace(rig, motor=tree), Typed(motor_c=50.0, motor_speed_kmh=30.0))
    assert np.isnan(found.checks[0].predicted)
    assert "predicts no motor temperature" in sentences(found)[0]
    assert found.suspects == ()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (Typed(), "at least one of"),
        (Typed(loaded_v=60.0), "nothing without amperes"),
        (Typed(motor_c=60.0), "nothing without motor_speed_kmh"),
        (Typed(wh_per_km=15.0, wh_speed_kmh=0.0), "nothing without wh_speed_kmh"),
        (Typed(top_speed_kmh=-4.0), "above 0"),
        (Typed(top_speed_kmh=float("nan")), "above 0"),
    ],
)
def test_what_is_refused(rig, typed, said):
    with pytest.raises(JobError, match=said):
        recheck(rig, typed)
