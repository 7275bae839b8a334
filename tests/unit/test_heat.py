"""Two-node heat: settled temperatures, hills and their band, maps, readings."""

import math
import random
from dataclasses import replace

import numpy as np
import pytest

from curves import load_job
from curves.motion.heat import (
    Reading,
    heat_map,
    hill,
    improved_heat,
    settled,
    time_to_limit,
    warm_up,
)
from curves.motion.heat.march import march
from curves.motion.heat.tracks import hill_tracks
from curves.motion.heat.warm_up import MOST_TRIES, WarmUp
from curves.motion.state import COLDEST_C, at_state, hottest, thermal
from curves.numerics.normal import BAND
from curves.parts.base import LARGEST, SMALLEST
from curves.parts.heating import (
    HALF,
    HEAT_FIELDS,
    KINDS,
    typical_heat,
    with_typical_heat,
)
from curves.setups.stack import stack
from curves.steady.part_load import ride_at
from curves.units import KMH
from curves.words.hill import sentence

AIR_C = 18.0


def demo(name="20 cells, cap lifted", **tables):
    rig = load_job(None).rig(name)
    parts = {part: getattr(rig, part).model_copy(update=new) for part, new in tables.items()}
    return replace(rig, **parts)


def on_grade(rig, percent):
    return replace(rig, conditions=rig.conditions.model_copy(update={"grade_percent": percent}))


def flows(rig, speed, found):
    """Heat made and carried off at settled temperatures, by the laws themselves."""
    s = stack([on_grade(rig, rig.conditions.grade_percent)])
    b = at_state(s, np.ones(1), found.winding_c, found.case_c)
    at = ride_at(b, np.array([speed]))
    heat = thermal(s)
    inward = heat.winding_to_case * (found.winding_c - found.case_c)
    outward = heat.to_air(at.speed) * (found.case_c - heat.air_c)
    return at, inward[0], outward[0]


@pytest.mark.parametrize(("percent", "kmh"), [(0.0, 40.0), (3.0, 25.0), (6.0, 15.0)])
def test_settled_is_where_what_flows_in_flows_out(percent, kmh):
    rig = on_grade(demo(), percent)
    found = settled([rig], np.array([kmh * KMH]))
    at, inward, outward = flows(rig, kmh * KMH, found)
    assert found.held[0]
    assert at.winding_w[0] == pytest.approx(inward, rel=1e-7)
    assert at.winding_w[0] + at.no_load_w[0] == pytest.approx(outward, rel=1e-7)


def test_settled_loss_is_the_cold_loss_in_hotter_copper():
    rig = demo(motor={"magnet_coefficient_per_k": 0.0})
    found = settled([on_grade(rig, 3.0)], np.array([15 * KMH]))
    at, inward, _ = flows(on_grade(rig, 3.0), 15 * KMH, found)
    cold = ride_at(stack([on_grade(rig, 3.0)]).batch(), np.array([15 * KMH]))
    # The same current through copper that is hotter by the settled rise.
    ratio = (1 + 0.00393 * (found.winding_c[0] - 20)) / (1 + 0.00393 * (rig.winding_c - 20))
    assert at.winding_w[0] == pytest.approx(cold.winding_w[0] * ratio, rel=1e-9)
    assert inward == pytest.approx(at.winding_w[0], rel=1e-7)


def test_too_steep_settles_nowhere():
    found = settled([on_grade(demo(), 9.0)], np.array([15 * KMH]))
    assert np.isinf(found.winding_c[0])
    assert found.over[0]


def test_time_to_the_limit_goes_with_where_it_settles():
    grades = (3.0, 7.0, 9.0)
    got = time_to_limit([on_grade(demo(), g) for g in grades], np.full(3, 15 * KMH))
    assert np.isinf(got.winding_s[0])
    assert np.all(np.diff(got.winding_s[1:]) < 0)
    assert np.array_equal(np.isinf(got.winding_s), ~got.settled.over)


def test_warming_up_against_a_closed_form():
    # A case that no heat moves and magnets that no heat weakens: copper loss is a straight line in
    # the winding's temperature, and its warming one exponential.
    limit = 60.0
    rig = on_grade(
        demo(
            motor={
                "magnet_coefficient_per_k": 0.0,
                "case_heat_j_per_k": 1e12,
                "winding_limit_c": limit,
            }
        ),
        8.0,
    )
    heat, speed = thermal(stack([rig])), np.array([15 * KMH])
    cold = ride_at(stack([rig]).batch(), speed).winding_w[0]
    capacity, flow = rig.motor.winding_heat_j_per_k, rig.motor.winding_to_case_w_per_k
    per_kelvin = cold * 0.00393 / (1 + 0.00393 * (rig.winding_c - 20))
    rate = (flow - per_kelvin) / capacity
    end = rig.winding_c + (cold - flow * (rig.winding_c - rig.magnet_c)) / (flow - per_kelvin)
    exact = np.log((end - rig.winding_c) / (end - limit)) / rate
    assert heat.limit_c[0] == limit
    got = march(
        stack([rig]),
        speed,
        time=3600.0,
        distance=np.array([np.inf]),
        awaited=np.array([[True], [False], [False]]),
    )
    # A step may err by 1e-6 of 100 K and its temperature; here the winding warms by 0.1 K a second.
    assert got.limit_s[0] == pytest.approx(exact, abs=0.005)
    assert got.limit_m[0] == pytest.approx(got.limit_s[0] * speed[0], rel=1e-9)


def test_hill_is_climbed_to_the_limit_and_no_further():
    rig = demo()
    got = hill([rig], 0.08, 700.0, 15 * KMH)
    assert got.longest[0] == pytest.approx(got.limit_s[0] * 15 * KMH, rel=1e-6)
    assert got.low[0] < got.longest[0] < got.high[0]
    # Cooled down to the limit by hand: a longer hill brings the winding just there.
    limit = rig.motor.winding_limit_c
    top = hill([rig], 0.08, float(got.longest[0]) * (1 - 1e-6), 15 * KMH)
    assert top.top_winding_c[0] == pytest.approx(limit, abs=0.01)
    assert "the whole hill and more" in sentence(got, 0)


def test_hill_answers_in_words():
    cases = {
        "It cannot start on this hill.": (demo(), 0.20, 15),
        "heat does not end this climb": (demo(), 0.02, 15),
        "is not known": (demo(motor={"case_heat_j_per_k": None}), 0.08, 15),
        "the most it holds there": (demo("as delivered"), 0.08, 25),
    }
    for words, (rig, grade, kmh) in cases.items():
        got = hill([rig], grade, 700.0, kmh * KMH)
        assert words in sentence(got, 0)
    with pytest.raises(ValueError, match="above 0"):
        hill([demo()], 0.08, 0.0, 5.0)


def test_band_grows_with_the_tolerances():
    sure = demo(motor={"tolerance": {}}, bike={"tolerance": {}}, controller={"tolerance": {}})
    unsure = demo(motor={"tolerance": dict.fromkeys(HEAT_FIELDS, HALF)})
    narrow = hill([sure], 0.08, 700.0, 15 * KMH)
    wide = hill([unsure], 0.08, 700.0, 15 * KMH)
    # Rows of the same numbers may differ by their last digits: NumPy's functions round otherwise
    # in the lanes of a vector than at its end, from one processor to the next.
    ends = [narrow.low[0], narrow.high[0]]
    assert ends == pytest.approx([narrow.longest[0]] * 2, rel=1e-14, abs=0.0)
    assert wide.low[0] < narrow.low[0] < wide.high[0]


def test_band_of_a_single_input_is_the_input_at_its_5_and_95_percent():
    one = demo(
        motor={"tolerance": {"winding_heat_j_per_k": 0.2}},
        bike={"tolerance": {}},
        controller={"tolerance": {}},
    )
    got = hill([one], 0.08, 700.0, 15 * KMH)
    for end, sign in ((got.low, -1), (got.high, 1)):
        heat = one.motor.winding_heat_j_per_k * 1.2 ** (sign * BAND)
        moved = demo(motor={"winding_heat_j_per_k": heat})
        assert end[0] == pytest.approx(hill([moved], 0.08, 700.0, 15 * KMH).longest[0], rel=1e-5)


def test_winding_foldback_slows_the_climb_and_keeps_it_cool():
    rig = on_grade(demo(controller={"winding_foldback_c": (60.0, 110.0)}), 8.0)
    found = settled([rig], np.array([15 * KMH]))
    # It either holds on below the end of the fold-back, or a hot motor no longer climbs at all.
    assert np.isinf(found.winding_c[0]) or found.winding_c[0] < 110.0
    flat = settled([on_grade(rig, 4.0)], np.array([25 * KMH]))
    assert flat.winding_c[0] < 110.0


def test_heat_map_agrees_with_single_settled_temperatures():
    setups = [demo(), demo("as delivered")]
    speeds, grades = np.array([10.0, 20.0, 50.0]) * KMH, np.array([0.0, 0.04, 0.10])
    got = heat_map(setups, speeds, grades)
    assert got.winding_c.shape == (2, 3, 3)
    for i, grade in enumerate(grades):
        one = settled([on_grade(demo(), grade * 100)], speeds[:1])
        assert got.winding_c[0, i, 0] == pytest.approx(one.winding_c[0], rel=1e-9)
    # 50 km/h up 10 % is not held even cold.
    assert np.isnan(got.winding_c[:, 2, 2]).all()
    assert got.limit_c[0] == 130.0


@pytest.mark.parametrize("kind", KINDS)
def test_typical_values_scale_and_say_so(kind):
    small, large = typical_heat(kind, 2.0), typical_heat(kind, 16.0)
    for name in HEAT_FIELDS:
        power = 1.0 if name.endswith("heat_j_per_k") else 2 / 3
        assert large[name] == pytest.approx(small[name] * 8**power)
    motor = demo().motor.model_copy(update=dict.fromkeys(HEAT_FIELDS))
    with_them = with_typical_heat(motor, kind, 4.0)
    assert all(with_them.tolerance[name] == HALF for name in HEAT_FIELDS)
    assert all(with_them.sources[name].startswith("typical") for name in HEAT_FIELDS)
    # What is given already stays.
    assert with_typical_heat(demo().motor, kind, 4.0).winding_heat_j_per_k == 800.0


def test_unknown_kind_or_mass():
    with pytest.raises(ValueError, match="kind of motor must be one of"):
        typical_heat("turbine", 5.0)
    with pytest.raises(ValueError, match="above 0 kg"):
        typical_heat("mid-drive", 0.0)


def test_readings_pull_values_towards_the_truth():
    true = demo()
    motor = true.motor.model_copy(update=dict.fromkeys(HEAT_FIELDS))
    guess = replace(true, motor=with_typical_heat(motor, "direct-drive hub", 5.0))
    # What the true motor shows at the end of two loads, read without error.
    loads = [(15 * KMH, 0.08, 300.0), (15 * KMH, 0.05, 3600.0)]
    shown = [_after(true, *load) for load in loads]
    readings = [Reading(*load, t, AIR_C, 1.0) for load, t in zip(loads, shown, strict=True)]
    got = improved_heat(guess, readings)
    # The prior pulls a little against it, by its share of the weight.
    assert np.abs(got.after_c - shown).max() < 0.15 * np.abs(got.before_c - shown).max()
    assert all(got.motor.tolerance[name] <= HALF * 1.001 for name in HEAT_FIELDS)
    assert min(got.motor.tolerance[name] for name in HEAT_FIELDS) < 0.6 * HALF


def _after(rig, speed, grade, time):
    """Winding temperature after a load, by an integration of its own."""
    from scipy.integrate import solve_ivp

    s = stack([on_grade(rig, 100 * grade)])
    heat = thermal(s)

    def rates(_, y):
        b = at_state(s, np.ones(1), y[:1], y[1:])
        at = ride_at(b, np.array([speed]))
        return np.concatenate(heat.rates(at.speed, at.winding_w, at.no_load_w, y[:1], y[1:]))

    return solve_ivp(rates, (0, time), [AIR_C, AIR_C], rtol=1e-6, atol=1e-4).y[0, -1]


def test_readings_need_heat_values():
    bare = demo(motor={"case_heat_j_per_k": None})
    with pytest.raises(ValueError, match="has no case_heat_j_per_k"):
        improved_heat(bare, [Reading(5.0, 0.05, 60.0, 40.0, 20.0)])
    with pytest.raises(ValueError, match="one reading or more"):
        improved_heat(demo(), [])


def test_trial_states_stay_within_what_motors_are():
    s = stack([demo()])
    wild = at_state(s, np.array([2.0]), np.array([1e5]), np.array([-1e5]))
    most = at_state(s, np.array([1.0]), hottest(s), np.array([COLDEST_C]))
    assert wild.drive.resistance == pytest.approx(most.drive.resistance)
    assert wild.drive.flux == pytest.approx(most.drive.flux)


def stiff(**heat):
    """A light case that its winding holds fast."""
    values = {"winding_heat_j_per_k": 660.0, "case_heat_j_per_k": 30.0}
    return demo(motor={**values, "winding_to_case_w_per_k": 100.0, **heat})


def counted(monkeypatch):
    """Lists the setups that are warmed up, with the steps each has tried."""
    made, begin = [], WarmUp.begin.__func__

    def begun(cls, *arguments):
        made.append(begin(cls, *arguments))
        return made[-1]

    monkeypatch.setattr(WarmUp, "begin", classmethod(begun))
    return made


ORDINARY_TRIES = MOST_TRIES / 4
"""Steps that any motor's warming up takes. It is 20 to 130 as a rule; a stall within the hundredth
of a kelvin of a steep fold-back takes some 300."""


def answered(rig, grade, length, speed, rides):
    """Whether hill and level end within those steps and say what they found."""
    rides.clear()
    got, level = hill([rig], grade, length, speed), time_to_limit([rig], np.array([speed]))
    tries = max((int(ride.tries.max(initial=0)) for ride in rides), default=0)
    assert tries < ORDINARY_TRIES
    assert not got.given_up.any()
    assert not np.isnan(got.longest[0])
    assert not np.isnan(level.settled.winding_c[0]) or got.start_speed[0] == 0
    return got


@pytest.mark.parametrize(
    "heat", [{}, {"case_heat_j_per_k": 1.0, "winding_to_case_w_per_k": 1e4}], ids=["held", "hard"]
)
@pytest.mark.parametrize("grade", [1e-6, 0.08])
def test_a_light_case_held_fast_by_its_winding_is_answered(monkeypatch, heat, grade):
    rides = counted(monkeypatch)
    answered(stiff(**heat), grade, 900.0, 15 * KMH, rides)


def log_uniform(rng, low, high):
    """Most within, some at either end."""
    ends = rng.random()
    if ends < 0.2:
        return low if ends < 0.1 else high
    return math.exp(rng.uniform(math.log(low), math.log(high)))


@pytest.mark.parametrize("seed", range(8))
def test_any_legal_heat_values_are_answered_within_a_bound_of_steps(monkeypatch, seed):
    rng, rides = random.Random(seed), counted(monkeypatch)
    span = (SMALLEST, LARGEST) if seed % 2 else (1e-2, 1e5)
    heat = {name: log_uniform(rng, *span) for name in HEAT_FIELDS}
    heat["winding_limit_c"] = rng.choice((60.0, 130.0, 300.0))
    foldback = rng.choice((None, (70.0, 70.01), (60.0, 110.0)))
    rig = demo(
        rng.choice(("as delivered", "13 cells, weakened", "20 cells, cap lifted")),
        motor={**heat, "tolerance": {}},
        bike={"tolerance": {}},
        controller={"tolerance": {}, "winding_foldback_c": foldback},
    )
    rig = replace(rig, winding_c=rng.choice((-20.0, 20.0, 90.0)))
    grade, length = rng.choice((1e-6, 0.02, 0.08, 0.1, 0.2)), rng.choice((100.0, 900.0, 1e6))
    answered(rig, grade, length, rng.uniform(5, 45) * KMH, rides)


@pytest.mark.parametrize("heat", [None, {}, {"case_heat_j_per_k": 1.0}])
def test_what_is_lost_is_stored_or_carried_off(heat):
    rig = on_grade(demo() if heat is None else stiff(**heat), 8.0)
    s, share = stack([rig]), (np.polynomial.legendre.leggauss(8)[0] + 1) / 2
    weight = np.polynomial.legendre.leggauss(8)[1] / 2
    known, ride = thermal(s), WarmUp.begin(s, np.array([15 * KMH]))
    start, lost, carried = ride.state[:, 0].copy(), 0.0, 0.0
    while ride.time[0] < 1800.0:
        leap = ride.advance(np.zeros(1, dtype=np.intp), 1800.0)
        for x, w in zip(share, weight, strict=True):
            if leap.at.size:
                winding, case, _ = leap.states(np.array([x]))
                at = ride_at(at_state(s, np.ones(1), winding, case), np.array([15 * KMH]))
                lost += w * leap.step[0] * (at.winding_w + at.no_load_w)[0]
                away = known.to_air(at.speed) * (case - known.air_c)
                carried += w * leap.step[0] * away[0]
    rise = ride.state[:, 0] - start
    stored = known.winding_heat[0] * rise[0] + known.case_heat[0] * rise[1]
    # Temperatures between steps are good to 1e-6 of 100 K and themselves, and losses follow them.
    assert stored + carried == pytest.approx(lost, rel=1e-6)


def test_what_cannot_be_followed_ends_and_says_why(monkeypatch):
    monkeypatch.setattr(warm_up, "MOST_TRIES", 3)
    got = hill([demo()], 0.08, 700.0, 15 * KMH)
    assert np.isnan(got.longest[0])
    assert "steps were tried" in sentence(got, 0)
    assert np.isnan(time_to_limit([on_grade(demo(), 9.0)], np.full(1, 15 * KMH)).winding_s[0])
    with pytest.raises(ValueError, match="steps were tried"):
        improved_heat(demo(), [Reading(5.0, 0.05, 600.0, 40.0, 20.0)])
    tracks = hill_tracks([demo()], 0.08, 15 * KMH, 1e6)
    assert np.isfinite(tracks.winding_c).all()


def test_a_hill_on_which_it_may_not_start_says_so():
    """A load at its 95 % point keeps the demonstration from starting up 12 %."""
    rigs = load_job().rigs()[:2]
    climbed = hill(rigs, 0.12, 700.0, 15 * KMH)
    assert (climbed.low == 0).all()
    for said in (sentence(climbed, k) for k in range(2)):
        assert "; may not start) of such a hill" in said
        assert "0 km to" not in said
    gentle = hill(rigs, 0.08, 700.0, 15 * KMH)
    assert not any("may not start" in said for said in (sentence(gentle, k) for k in range(2)))
