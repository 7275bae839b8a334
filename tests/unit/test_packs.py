"""Which pack: the sweep and the count where more volts stop helping."""

import numpy as np
import pytest

from curves import Goals, JobError, load_job
from curves.motion.heat import settled
from curves.motion.runs import Targets, timed_runs
from curves.parts.labels import NEARLY_EMPTY, charged, on_slope
from curves.setups.stack import stack
from curves.steady.balance import batch_top_speed, top_speed
from curves.studies.cells import with_series
from curves.studies.packs import pack_sweep
from curves.units import KMH
from curves.words.packs import for_goals, sentence

JOB = load_job()
SETUPS = ("as delivered", "20 cells, cap lifted", "13 cells, weakened")


@pytest.fixture(scope="module")
def sweeps():
    return {
        name: pack_sweep(JOB.rig(name), range(8, 25), charge=(1.0, 0.5, 0.1), grade_percent=(0, 6))
        for name in SETUPS
    }


@pytest.mark.parametrize("name", SETUPS)
def test_row_of_the_setups_own_count_is_the_setup_itself(name, sweeps):
    rig = JOB.rig(name)
    sweep = sweeps[name]
    k = int(np.flatnonzero(sweep.series == rig.pack.series)[0])
    alone = top_speed([rig])
    assert sweep.top_speed[0, 0, k] == pytest.approx(alone.speed[0], rel=1e-12)
    assert sweep.limited_by[0][0][k] == alone.limited_by[0]
    assert sweep.mass[k] == pytest.approx(rig.pack.mass_kg, rel=1e-15)
    assert sweep.resistance[k] == pytest.approx(rig.pack.resistance(), rel=1e-14)


@pytest.mark.parametrize("name", SETUPS)
def test_row_of_another_count_is_a_job_edited_by_hand(name, sweeps):
    rig = JOB.rig(name)
    share = 15 / rig.pack.series
    changes = {
        "series": 15,
        "mass_kg": rig.pack.mass_kg * share,
        "bms_cutoff_v": rig.pack.bms_cutoff_v * share,
    }
    job = JOB
    pack = next(setup.pack for setup in JOB.setup if setup.name == name)
    for field, value in changes.items():
        job = job.replace(("pack", pack, field), value)
    sweep = sweeps[name]
    k = int(np.flatnonzero(sweep.series == 15)[0])
    assert sweep.top_speed[0, 0, k] == pytest.approx(top_speed([job.rig(name)]).speed[0], rel=1e-12)


@pytest.mark.parametrize("name", SETUPS)
@pytest.mark.parametrize("caps", ["present", "grown", "same power"])
def test_exact_knee_against_a_fine_scan(name, caps):
    """Derived: the lowest of 401 counts at which the words leave voltage out."""
    sweep = pack_sweep(JOB.rig(name), range(8, 25), caps=caps)
    exact = sweep.knee.exact[0, 0]
    if np.isnan(exact):
        pytest.skip("no knee in this range")
    assert sweep.knee.count[0, 0] == np.ceil(exact)
    fine = np.linspace(exact - 0.2, exact + 0.2, 401)
    scan = with_series(stack([JOB.rig(name)]), fine, caps=caps)
    words = batch_top_speed(scan.batch(), scan.names).limited_by
    bound = np.array(["voltage" in w for w in words])
    first_free = fine[np.argmin(bound)]
    assert bound[0]
    assert exact == pytest.approx(first_free, abs=1e-3)


def test_knee_outside_the_range_is_not_named():
    above = pack_sweep(JOB.rig("as delivered"), range(14, 20))
    below = pack_sweep(JOB.rig("as delivered"), range(8, 12))
    at_its_edge = pack_sweep(JOB.rig("as delivered"), range(13, 20))
    assert np.isnan(above.knee.count).all()
    assert np.isnan(below.knee.count).all()
    assert at_its_edge.knee.count[0, 0] == 13
    assert "all the way to 11" in sentence(below)
    assert "voltage does not hold" in sentence(above)


def test_the_sentence_says_what_for(sweeps):
    """The numbers themselves, counted anew."""
    sweep, goals = (
        sweeps["as delivered"],
        Goals(top_speed_kmh=40.0, hill={"grade_percent": 6, "length_m": 900.0, "speed_kmh": 16.0}),
    )
    said = sentence(sweep)
    assert said.startswith("With a full pack on the level, more cells stop helping top speed at 13")
    assert f"with a nearly empty pack it is {sweep.knee.count[2, 0]:.0f}" in said
    # On the hill the power cap holds it from one cell fewer on.
    assert "; up 6 % it is 12" in said
    assert sweep.limited_by[0][1][4] == ("power cap",)
    some = pack_sweep(JOB.rig("as delivered"), range(8, 25), grade_percent=(0, 1))
    assert f"; up 1 % it is {some.knee.count[0, 1]:.0f}" in sentence(some)
    fast = sweep.top_speed / KMH
    full, empty, hill = (
        int(sweep.series[np.flatnonzero(x)[0]])
        for x in (fast[0, 0] >= 40, fast[2, 0] >= 40, fast[0, 1] >= 16)
    )
    flat, steep = for_goals(sweep, goals)
    assert flat == (
        f"The goal of 40 km/h on the level takes {full} cells full and {empty} nearly empty."
    )
    assert f"16 km/h up 6 % takes {hill} cells" in steep
    assert for_goals(sweep, Goals()) == []


def test_goals_out_of_the_range_of_counts(sweeps):
    sweep = sweeps["as delivered"]
    (said,) = for_goals(sweep, Goals(top_speed_kmh=90.0))
    assert "takes more than 24 cells full and more than 24 nearly empty." in said
    (said,) = for_goals(sweep, Goals(top_speed_kmh=10.0))
    assert said.endswith("takes 8 cells or fewer full and 8 or fewer nearly empty.")
    (said,) = for_goals(sweep, Goals(top_speed_kmh=25.0))
    assert said.endswith("takes 8 cells or fewer full and 9 nearly empty.")
    assert for_goals(sweep, Goals(hill={"grade_percent": 3, "length_m": 1, "speed_kmh": 5})) == []


def test_states_and_roads_in_words():
    assert [charged(x) for x in (1.0, NEARLY_EMPTY, 0.5)] == ["full", "nearly empty", "50 % full"]
    assert [on_slope(x) for x in (0.0, 8.0, -2.5)] == ["on the level", "up 8 %", "down 2.5 %"]


def test_knee_under_a_speed_cap_is_where_the_cap_is_reached():
    job = JOB.replace("tune.town.speed_cap_kmh", 40.0)
    knee = pack_sweep(job.rig("as delivered"), range(8, 20)).knee
    assert knee.above[0][0] == ("speed cap",)
    base = stack([job.rig("as delivered")])
    sides = with_series(base, knee.exact[0, 0] * np.array([1 - 1e-6, 1 + 1e-6]))
    found = batch_top_speed(sides.batch(), sides.names)
    assert found.limited_by[1] == ("speed cap",)
    assert "voltage" in found.limited_by[0]
    assert found.speed[0] == pytest.approx(40 * KMH, rel=1e-5)


def test_massless_cells_never_slow_the_bike():
    """At a fixed mass more volts never cost top speed: every limit on the pack only widens."""
    job = JOB.replace("pack.cells-10.mass_kg", 0.0)
    sweep = pack_sweep(job.rig("as delivered"), range(8, 25), grade_percent=(0, 4, 8))
    rising = np.diff(sweep.top_speed, axis=-1)
    # Solver's own accuracy: top speed is found to 1e-9.
    assert np.all((rising >= -1e-9) | np.isnan(rising))


def test_lower_charge_needs_more_cells(sweeps):
    exact = sweeps["as delivered"].knee.exact[:, 0]
    assert np.all(np.diff(exact) > 0)


def test_what_is_held():
    rig = JOB.rig("as delivered")
    strings = pack_sweep(rig, range(10, 21, 5), hold="strings")
    cells = pack_sweep(rig, range(10, 21, 5), hold="cells")
    energy = pack_sweep(rig, range(10, 21, 5), hold="energy")
    assert strings.strings.tolist() == [6, 6, 6]
    assert cells.strings.tolist() == [6, 4, 3]
    assert energy.energy == pytest.approx(energy.energy[0])
    assert energy.strings[1] == 4
    assert np.ptp(energy.mass) < 1e-12
    # n r / p with n p held grows with the square of n; wiring (12 mΩ) stays.
    ohm = energy.resistance - 0.012
    assert ohm[2] == pytest.approx(4 * ohm[0], rel=1e-12)


def test_same_power_keeps_the_watts():
    rig = JOB.rig("20 cells, cap lifted")
    sweep = pack_sweep(rig, range(18, 25, 2), caps="same power")
    at = [k for k, words in enumerate(sweep.limited_by[0][0]) if words == ("pack current",)]
    rest = sweep.pack_current[0, 0, at] * sweep.open_circuit_v[0, at]
    assert len(at) > 1
    assert rest == pytest.approx(rest[0], rel=1e-6)


@pytest.mark.parametrize("series", [[], [3, 2], [0, 1], [1.5], [401]])
def test_counts_that_are_none_are_refused(series):
    with pytest.raises(JobError, match="series"):
        pack_sweep(JOB.rig("as delivered"), series)


def test_a_source_pack_is_refused():
    job = JOB.replace(
        "pack.cells-10", {"open_circuit_v": 40.0, "resistance_ohm": 0.1, "mass_kg": 5.0}
    )
    with pytest.raises(JobError, match="source pack"):
        pack_sweep(job.rig("as delivered"), [10, 11])


def test_splits_of_a_count_are_those_of_the_setup():
    rig = JOB.rig("as delivered")
    targets = Targets()
    sweep = pack_sweep(rig, [10, 13], charge=(1.0, 0.5), targets=targets)
    alone = timed_runs([rig], targets)
    assert sweep.runs.speed_time[0] == pytest.approx(alone.speed_time[0], rel=1e-12, nan_ok=True)
    assert sweep.runs.distance_time[0] == pytest.approx(alone.distance_time[0], rel=1e-12)
    assert len(sweep.runs.names) == 4


def test_the_most_heat_in_the_windings_is_that_of_the_most_current(sweeps):
    """Derived: 1.5 R i² at the tune's phase current, which these setups reach at rest."""
    name, sweep = next(iter(sweeps.items()))
    rig = JOB.rig(name)
    drive = stack([rig]).batch().drive
    wound = float(drive.resistance[0, 0]) - rig.controller.resistance_mohm / 1000
    most = 1.5 * wound * rig.tune.phase_current_a**2
    assert np.nanmax(sweep.most_winding_loss) == pytest.approx(most, rel=1e-9)
    assert not np.any(sweep.most_winding_loss < sweep.winding_loss * (1 - 1e-9))


def test_settled_temperature_where_asked():
    rig = JOB.rig("as delivered")
    sweep = pack_sweep(rig, [10, 13], heat=True)
    assert sweep.winding_c[0, 0, 0] == pytest.approx(
        settled([rig], top_speed([rig]).speed).winding_c[0], abs=1e-6
    )
    assert sweep.winding_c[0, 0, 1] > sweep.winding_c[0, 0, 0]
    assert np.isnan(pack_sweep(rig, [10]).winding_c).all()


def test_knee_of_a_bike_with_gears_is_that_of_the_gear_in_use():
    """The lowest count from which on words leave voltage out, whatever another gear could do.

    At 11 cells the pack current holds it in the low gear, and voltage again from 12 on.
    """
    job = JOB.replace("bike.cargo.gear_ratios", [0.8, 1.2])
    sweep = pack_sweep(job.rig("20 cells, cap lifted"), range(8, 25))
    bound = ["voltage" in words for words in sweep.limited_by[0][0]]
    last = len(bound) - 1 - bound[::-1].index(True)
    assert bound.index(False) < last
    assert sweep.knee.count[0, 0] == sweep.series[last + 1]
