"""Wheel, gears and road load."""

import math

import numpy as np
import pytest
from pydantic import ValidationError

from curves.parts.bike import (
    Bike,
    air_force,
    coast_down_force,
    road_force,
    rolling_force,
    slope_force,
    tyre_circumference,
    wheel_radius,
)

PLAIN = {
    "bike_mass_kg": 30,
    "rider_kg": 75,
    "circumference_m": 2.1,
    "rolling_coefficient": 0.01,
    "drag_area_m2": 0.6,
}


def without(*names, **more):
    return {**{k: v for k, v in PLAIN.items() if k not in names}, **more}


def test_slope_and_rolling_use_the_angle():
    # Derived: θ = atan(grade), by the standard library's own functions.
    angle = math.atan(0.15)
    assert slope_force(100, 0.15, 9.8) == pytest.approx(980 * math.sin(angle), rel=1e-14)
    assert rolling_force(100, 0.15, 0.01, 9.8) == pytest.approx(9.8 * math.cos(angle), rel=1e-14)
    assert slope_force(100, -0.15, 9.8) == -slope_force(100, 0.15, 9.8)


def test_wind_pushes_when_it_is_faster():
    assert air_force(5.0, 0.0, 0.5, 1.2) == pytest.approx(7.5)
    assert air_force(5.0, -8.0, 0.5, 1.2) == pytest.approx(-2.7)
    assert air_force(0.0, 5.0, 0.5, 1.2) == pytest.approx(7.5)


def test_coast_down_takes_wind_in_its_square_only():
    assert coast_down_force(4.0, 1.0, 10.0, 2.0, 0.3) == pytest.approx(10 + 8 + 7.5)


def test_road_force_is_the_sum():
    speed = np.linspace(0, 20, 5)
    common = {"mass_kg": 120.0, "grade": 0.06, "headwind": 2.0, "gravity": 9.80665}
    whole = road_force(
        speed,
        **common,
        rolling_coefficient=0.012,
        drag_area_m2=0.6,
        density=1.2,
        f0=3,
        f1=1,
        f2=0.1,
    )
    parts = (
        slope_force(120, 0.06, 9.80665)
        + rolling_force(120, 0.06, 0.012, 9.80665)
        + air_force(speed, 2, 0.6, 1.2)
        + coast_down_force(speed, 2, 3, 1, 0.1)
    )
    assert whole == pytest.approx(parts, rel=1e-15)
    assert whole.shape == speed.shape


def test_wheel():
    assert wheel_radius(2 * np.pi) == pytest.approx(1.0)
    assert Bike(**without("circumference_m", tyre="57-507")).roll_out_m == pytest.approx(
        math.pi * 0.621
    )
    with pytest.raises(ValueError, match="ISO 5775"):
        tyre_circumference("26x2.0")


def test_gears():
    assert Bike(**PLAIN).ratios == (1.0,)
    assert Bike(**PLAIN, final_drive_ratio=1.5).ratios == (1.5,)
    assert Bike(**PLAIN, gear_ratios=[1.2, 0.8]).ratios == (1.2, 0.8)


@pytest.mark.parametrize(
    ("fields", "field", "message"),
    [
        (without("circumference_m"), "circumference_m", "give it, or tyre"),
        (without(tyre="57-507"), "tyre", "not both"),
        (without("circumference_m", tyre="57-5o7"), "tyre", "57-507"),
        (without("circumference_m", tyre="57-999"), "tyre", "57-507"),
        (without("drag_area_m2"), "drag_area_m2", "or road_load_n instead"),
        (without(road_load_n=[1, 2, 3]), "rolling_coefficient", "one or the other"),
        (without(gear_ratios=[]), "gear_ratios", "at least one"),
        (without(gear_ratios=[1.0], final_drive_ratio=1.0), "final_drive_ratio", "not both"),
        (without(wheelbase_m=1.1, cg_to_rear_axle_m=1.2), "cg_to_rear_axle_m", "within"),
    ],
)
def test_one_of_each(fields, field, message):
    with pytest.raises(ValidationError) as caught:
        Bike(**fields)
    (below, _, said) = caught.value.errors()[0]["ctx"]["error"].errors[0]
    assert below == (field,)
    assert message in said
