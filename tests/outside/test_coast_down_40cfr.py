"""Coast-downs against US public law: 40 CFR 86.529-98, Figure F98-9, road load of motorcycles.

``F = A + C V²`` with V in km/h; the target is the time from 70 to 60 km/h. Its 4.10 s for 160 kg
does not follow from its own A and C (it is off by 1.8 %), so that row is left out.
"""

import numpy as np
import pytest

from curves.measured.coastdown import from_times
from curves.measured.readings import Bench
from curves.measured.rolling import STANDARD_DENSITY, Rolled, interval_time, road_load
from curves.units import KMH
from tests.outside.test_two_wheeler_road_load import TABLE

OUT = np.ones(1)


def of_row(a, c):
    return np.array([[a, 0.0, c / KMH**2, 0.0, 0.0]])


def rolled(mass):
    return Rolled(mass, 0.0, STANDARD_DENSITY)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]} kg")
def test_force_and_time_of_the_table(row):
    mass, a, c, force, target, longest, shortest = row
    found = road_load(of_row(a, c), np.array([65 * KMH]), OUT, rolled(mass))[0]
    # A and C are rounded: half a unit of C's last digit is 0.00005 · 65² = 0.21 N.
    assert found == pytest.approx(force, abs=0.25)
    time = interval_time(of_row(a, c), rolled(mass), 70 * KMH * OUT, 60 * KMH * OUT, OUT)[0, 0]
    # The same rounding in the time, and half a unit of its own last digit.
    assert time == pytest.approx(target, rel=0.3e-2)
    assert shortest < time < longest


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]} kg")
def test_the_tables_coefficients_come_back_from_timed_intervals(row):
    mass, a, c, *_ = row
    high = np.arange(90.0, 20.0, -10.0)
    times = interval_time(
        of_row(a, c), rolled(mass), high * KMH, (high - 10) * KMH, np.ones(high.size)
    )[0]
    bench = Bench.model_validate(
        {
            "format": "rimforce-bench-1",
            "coast_bike": {"mass_kg": mass, "rotating_share": 0.0},
            "coast_down": [
                {"direction": way, "from_kmh": v, "to_kmh": v - 10, "seconds": round(t, 2)}
                for v, t in zip(high, times, strict=True)
                for way in ("out", "back")
            ],
        }
    )
    found = from_times(bench)
    # Times are to 0.01 s, of 2 s at the fast end: 0.3 % of a force of 160 N at most.
    assert found.values[0] == pytest.approx(a, abs=0.3)
    assert found.values[2] * KMH**2 == pytest.approx(c, rel=5e-3)
    assert found.wind == pytest.approx(0.0, abs=0.05)
    assert found.grade == pytest.approx(0.0, abs=2e-4)
    assert not found.warnings or found.values[0] < 2
