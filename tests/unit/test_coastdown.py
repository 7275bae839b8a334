"""Coast-downs of known bikes in known wind, on a known slope."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from curves import JobError
from curves.measured.coastdown import Stretch, from_logs, from_times
from curves.measured.readings import Bench
from curves.measured.rolling import STANDARD_DENSITY, Rolled, coasting_speed, road_load
from tests.synthetic.runs import wander

TRUTH = np.array([[12.0, 0.0, 0.35, 1.5, 0.002]])
BIKE = Rolled(150.0, 0.04, 1.15)
WAYS = {"out": 1.0, "back": -1.0}


def stretch(way, name="", noise=None, bike=BIKE, truth=TRUTH, rate=4.0):
    time = np.arange(0.0, 26.0, 1 / rate)
    speed = coasting_speed(truth, np.array([13.0]), bike, WAYS[way], time)[0]
    if noise is not None:
        speed = speed + wander(noise, time, 0.07, 0.8) + 0.03 * noise.standard_normal(time.size)
    return Stretch(name or way, way, time, speed)


def test_coasting_speed_is_that_of_an_integrator():
    time = np.linspace(0.0, 26.0, 9)

    def slope(_, v):
        return -road_load(TRUTH[0], v, np.array(1.0), BIKE) / BIKE.inertia

    exact = solve_ivp(slope, (0.0, 26.0), [13.0], t_eval=time, rtol=1e-11, atol=1e-11).y[0]
    assert coasting_speed(TRUTH, np.array([13.0]), BIKE, 1.0, time)[0] == pytest.approx(
        exact, abs=1e-6
    )


def test_both_ways_tell_wind_and_slope_from_the_bike():
    found = from_logs([stretch("out"), stretch("back")], BIKE)
    assert found.values == pytest.approx((12.0, 0.0, 0.35), rel=1e-3)
    assert found.wind == pytest.approx(1.5, rel=1e-2)
    assert found.grade == pytest.approx(0.002, rel=1e-2)
    assert found.rolling_coefficient == pytest.approx(12.0 / (150 * 9.80665), rel=1e-3)
    assert found.drag_area == pytest.approx(0.7 / STANDARD_DENSITY, rel=1e-3)


def test_one_way_takes_wind_and_slope_for_the_bike_and_says_so():
    found = from_logs([stretch("out")], BIKE)
    assert found.values[0] > 14.0
    assert "All runs went one way" in found.warnings[0]


def test_thin_air_gives_the_same_coefficients_in_standard_air():
    high = Rolled(150.0, 0.04, 0.95)
    found = from_logs([stretch(way, bike=high) for way in WAYS], high)
    assert found.values == pytest.approx((12.0, 0.0, 0.35), rel=1e-3)


def test_noisy_logs_hold_the_truth_in_their_intervals(capsys):
    seeds, inside = 10, np.zeros(3)
    for seed in range(seeds):
        rng = np.random.default_rng(seed)
        runs = [stretch(way, f"{way} {k}", rng) for k in range(2) for way in WAYS]
        found = from_logs(runs, BIKE)
        inside += np.abs(found.values - TRUTH[0, :3]) <= 2 * found.uncertainty
        assert found.uncertainty[2] < 0.05
    with capsys.disabled():
        print(f"\ncoast-down: truth within 2 standard uncertainties {inside} of {seeds}")
    assert inside.min() >= 9


def times(rows, **bike):
    return Bench.model_validate(
        {
            "format": "rimforce-bench-1",
            "coast_bike": {"mass_kg": 150.0, **bike},
            "coast_down": [
                dict(zip(("direction", "from_kmh", "to_kmh", "seconds"), row, strict=True))
                for row in rows
            ],
        }
    )


def test_stop_watch_times_with_scatter():
    rng = np.random.default_rng(2)
    from curves.measured.rolling import interval_time
    from curves.units import KMH

    rows = []
    still = TRUTH * (1, 1, 1, 0, 0)
    for way, sign in WAYS.items():
        for high in (45.0, 38.0, 31.0, 24.0, 17.0):
            ends = (np.array([high]) * KMH, np.array([high - 7]) * KMH, np.array([sign]))
            exact = interval_time(still, BIKE, *ends)[0, 0]
            rows.append((way, high, high - 7, round(exact + 0.08 * rng.standard_normal(), 2)))
    # Air of 1.15 kg/m³: about 34 °C at sea level.
    found = from_times(times(rows, rotating_share=0.04, air_c=33.9))
    assert np.all(np.abs(found.values - TRUTH[0, :3]) <= 3 * found.uncertainty)
    assert found.uncertainty[0] < 3.0


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([("out", 40, 35, 5.0), ("back", 40, 35, 5.0)], "leave nothing to check by"),
        ([("out", 40, 35, 5.0), ("back", 40, 35, 5.0)], "less than two to one"),
        ([("out", 40, 35, 5.0), ("out", 20, 15, 8.0), ("out", 30, 25, 6.5)], "went one way"),
        (
            [
                ("out", 45, 40, 2.4), ("out", 25, 20, 4.6), ("out", 15, 10, 6.4),
                ("back", 45, 40, 6.1), ("back", 25, 20, 9.8), ("back", 15, 10, 11.0),
            ],
            "The wind along the road was",
        ),
    ],
)  # fmt: skip
def test_what_is_said_of_coast_downs(rows, said):
    assert any(said in warning for warning in from_times(times(rows)).warnings)


def test_what_is_refused():
    with pytest.raises(JobError, match="at least two"):
        from_times(times([("out", 40, 35, 5.0)]))
    with pytest.raises(JobError, match="at least one run"):
        from_logs([], BIKE)
    with pytest.raises(JobError, match="has 3 samples"):
        from_logs([Stretch("short", "out", np.arange(3.0), np.arange(3.0))], BIKE)
