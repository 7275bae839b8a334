"""Maps of any two inputs, and results by name."""

import numpy as np
import pytest

from curves import JobError, load_job
from curves.motion.runs import Targets, timed_runs
from curves.setups.stack import stack
from curves.steady.balance import top_speed
from curves.steady.envelope import envelope
from curves.studies.maps import result_map
from curves.studies.results import PATTERNS, RESULTS, result, results_of
from curves.units import AS_WRITTEN, FOOT, KMH, MPH, Units

JOB = load_job()
RIG = JOB.rig("as delivered")


def test_map_against_jobs_edited_by_hand():
    found = result_map(
        RIG,
        ("tune.pack_current_a", [10.0, 26.0, 40.0]),
        ("bike.drag_area_m2", [0.5, 0.72]),
        ["top_speed_kmh", "loss_at_top_w"],
    )
    assert found.results["top_speed_kmh"].shape == (2, 3)
    for j, area in enumerate(found.y):
        for k, amps in enumerate(found.x):
            job = JOB.replace("tune.town.pack_current_a", float(amps))
            job = job.replace("bike.cargo.drag_area_m2", float(area))
            top = top_speed([job.rig("as delivered")])
            assert found.results["top_speed_kmh"][j, k] == pytest.approx(
                top.speed[0] / KMH, rel=1e-12
            )
            assert found.limits[found.region[j, k]] == top.limited_by[0]


def test_pack_follows_its_cells():
    found = result_map(RIG, ("pack.series", [10, 20]), ("pack.parallel", [6, 3]), ["pack_kg"])
    assert found.results["pack_kg"] == pytest.approx(np.array([[5.1, 10.2], [2.55, 5.1]]))


def test_map_where_the_bike_cannot_start():
    found = result_map(
        RIG, ("tune.phase_current_a", [0.5, 75.0]), ("conditions.grade_percent", [0.0])
    )
    assert found.region[0, 0] == -1
    assert np.isnan(found.results["top_speed_kmh"][0, 0])
    assert found.region[0, 1] >= 0


@pytest.mark.parametrize(
    ("x", "y", "results", "said"),
    [
        ("tune.pack_amps", "pack.series", ["top_speed_kmh"], "tune.pack_current_a"),
        ("pack.series", "pack.series", ["top_speed_kmh"], "twice"),
        ("pack.series", "tune.power_cap_w", ["speed"], "top_speed_kmh"),
        ("pack.series", "tune.power_cap_w", ["time_to_0mph_s"], "must be one of"),
    ],
)
def test_what_does_not_exist_is_refused(x, y, results, said):
    with pytest.raises(JobError, match=said):
        result_map(RIG, (x, [10.0]), (y, [20.0]), results)


def test_every_result_by_name_against_its_own_module():
    names = [*RESULTS, *PATTERNS]
    values = dict(zip(names, results_of(stack([RIG]), names)[0], strict=True))
    top = top_speed([RIG])
    runs = timed_runs([RIG], Targets((30 * MPH, 50 * KMH), (660 * FOOT,)))
    curve = envelope([RIG], np.linspace(0, 1, 25) * top.speed[0])
    assert values["top_speed_kmh"] == pytest.approx(top.speed[0] / KMH, rel=1e-12)
    assert values["drive_off_emf_v"] == pytest.approx(top.drive_off_emf_v[0], rel=1e-12)
    assert values["full_charge_v"] == pytest.approx(RIG.pack.full_v(), rel=1e-12)
    assert values["pack_kg"] == RIG.pack.mass_kg
    assert np.isnan(values["price"])
    assert np.isnan(values["time_to_30mph_s"])
    assert values["time_to_660ft_s"] == pytest.approx(runs.distance_time[0, 0], rel=1e-12)
    assert values["peak_pack_a"] == pytest.approx(np.nanmax(curve.pack_current), rel=1e-9)
    assert values["peak_phase_a"] == pytest.approx(np.nanmax(curve.phase_current), rel=1e-9)
    at_top = envelope([RIG], top.speed)
    places = ("winding", "controller", "no-load", "standby", "gears")
    loss = sum(at_top.losses[place][0, 0] for place in places)
    assert values["loss_at_top_w"] == pytest.approx(loss, rel=1e-9)


def test_titles_say_what_was_asked():
    assert result("time_to_50kmh_s").titled(AS_WRITTEN) == "0 to 50 km/h"
    graded = result("grade_at_12.5kmh_percent")
    assert graded.titled(AS_WRITTEN) == "steepest grade at 12.5 km/h"
    assert graded.titled(Units.of(["mph"])) == "steepest grade at 7.77 mph"
