"""Laws that hold for every legal drive: limits, balances, continuity."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.point.gains import MET, gains
from curves.point.limits import (
    SQRT3,
    demanded_voltage,
    input_power,
    mtpa_current_d,
    power_limits,
    sagged_voltage,
)
from curves.point.solve import operating_point
from tests.drives import drive

LIMITS = ("vector_a", "weakening_a", "pack_a", "cap_w")
WORD = {"vector_a": 0, "weakening_a": 1, "pack_a": 2, "cap_w": 3}


def sizes(low, high):
    return st.floats(np.log10(low), np.log10(high)).map(lambda x: 10**x)


@st.composite
def drives(draw):
    """A drive over the legal range, a rotor speed as a share of Kv m V_oc, and both as arrays."""
    flux, pairs = draw(sizes(3e-4, 0.5)), draw(st.integers(1, 30))
    ld = draw(sizes(1e-6, 3e-3))
    lq = ld * draw(st.one_of(st.just(1.0), st.floats(1.0, 4.0)))
    volts = draw(sizes(10, 400))
    amperes = draw(sizes(1, 1000))
    modulation = draw(st.floats(0.6, 1.1027))
    weakening = draw(st.one_of(st.just(0.0), sizes(0.1, 1000), st.just(1e6)))
    aligned = mtpa_current_d(np.array(flux), np.array(lq - ld), np.array(amperes))
    mtpa = float(aligned) if draw(st.booleans()) else 0.0
    start = draw(st.one_of(st.just(0.0), st.floats(0.7, 1.05)))
    made = drive(
        flux=flux,
        pole_pairs=pairs,
        resistance=draw(st.one_of(st.just(0.0), sizes(1e-3, 1.0))),
        ld=ld,
        lq=lq,
        open_circuit_v=volts,
        pack_resistance=draw(st.one_of(st.just(0.0), sizes(1e-3, 2.0))),
        standby_w=draw(st.one_of(st.just(0.0), st.floats(0.1, 30))),
        modulation=modulation,
        vector_a=amperes,
        weakening_a=weakening + mtpa,
        pack_a=draw(st.one_of(st.just(np.inf), sizes(1, 200))),
        cap_w=draw(st.one_of(st.just(np.inf), sizes(100, 10000))),
        cutoff_v=draw(st.one_of(st.just(0.0), st.floats(0.4, 0.99))) * volts,
        foldback_start_v=start * volts,
        foldback_end_v=start * volts * draw(st.floats(0.8, 0.98)),
    )
    share = draw(st.floats(0.0, 2.0))
    speed = share * modulation * volts / (SQRT3 * pairs * flux)
    return made, np.array([speed])


def torque(made, speed):
    got = operating_point(made, speed).torque[0]
    return -1.0 if np.isnan(got) else float(got)


def unit(made):
    """Torque of the whole phase current on the magnets alone: what errors are measured by."""
    return float((1.5 * made.pole_pairs * made.flux * np.minimum(made.vector_a, 1e4))[0])


@settings(max_examples=150, deadline=None)
@given(drives(), st.sampled_from(LIMITS), st.floats(1.0001, 3.0))
def test_more_of_a_limit_is_never_less_torque(case, name, factor):
    made, speed = case
    more = made._replace(**{name: getattr(made, name) * factor})
    # Both are found to a few parts in 1e12 of the unit.
    assert torque(more, speed) >= torque(made, speed) - 1e-10 * unit(made)


@settings(max_examples=150, deadline=None)
@given(drives(), st.floats(1.0001, 2.0))
def test_less_cutoff_is_never_less_torque(case, factor):
    made, speed = case
    less = made._replace(cutoff_v=made.cutoff_v / factor)
    assert torque(less, speed) >= torque(made, speed) - 1e-10 * unit(made)


@settings(max_examples=150, deadline=None)
@given(drives(), st.floats(1.0, 3.0))
def test_torque_never_rises_with_speed(case, factor):
    made, speed = case
    assert torque(made, speed * factor) <= torque(made, speed) + 1e-10 * unit(made)


@settings(max_examples=200, deadline=None)
@given(drives())
def test_the_point_keeps_every_limit_and_balances(case):
    made, speed = case
    with np.errstate(all="raise", under="ignore"):
        point = operating_point(made, speed)
    if np.isnan(point.torque[0]):
        return
    i_d, i_q = point.current_d, point.current_q
    power = input_power(made, speed, i_d, i_q)
    copper = 1.5 * made.resistance * (i_d**2 + i_q**2)
    shaft = speed * point.torque
    # The balance is the sum itself, to rounding.
    assert made.standby_w + copper + shaft == pytest.approx(power, rel=1e-12)
    volts = sagged_voltage(made, power)
    slack = 1e-9
    assert np.hypot(i_d, i_q) <= made.vector_a * (1 + slack)
    assert -i_d <= made.weakening_a + slack * made.vector_a
    assert i_d <= 0
    assert i_q >= 0
    assert power <= power_limits(made).total * (1 + slack)
    assert demanded_voltage(made, speed, i_d, i_q) <= volts * (1 + slack)
    # What the pack gives is what is drawn: V I = P at the sagged voltage.
    sag = made.pack_resistance * power / volts
    # At half the open-circuit voltage the root of a difference loses half the digits.
    assert volts + sag == pytest.approx(made.open_circuit_v, rel=1e-7)


@settings(max_examples=150, deadline=None)
@given(drives())
def test_the_envelope_is_continuous(case):
    made, speed = case
    # A step of 1e-9 may move torque by its slope only: at most some 1e4 units over Kv m V_oc, for
    # windings of very little impedance.
    here, there = torque(made, speed), torque(made, speed * (1 + 1e-9))
    if min(here, there) >= 0:
        assert there == pytest.approx(here, abs=1e-5 * unit(made))


@settings(max_examples=150, deadline=None)
@given(drives())
def test_what_is_named_binds_and_would_give_torque(case):
    made, speed = case
    point = operating_point(made, speed)
    if np.isnan(point.torque[0]) or point.torque[0] < 1e-3 * unit(made):
        return
    held = gains(made, speed, point)
    assert held.limited[0].any()
    power = input_power(made, speed, point.current_d, point.current_q)
    amperes = (power / sagged_voltage(made, power))[0]
    size = {
        "vector_a": np.hypot(point.current_d, point.current_q)[0],
        "weakening_a": -point.current_d[0],
        "pack_a": amperes,
        "cap_w": power[0],
    }
    for name, position in WORD.items():
        # A pack never gives more than V_oc / 2 R_pack, whatever its rating.
        most = power_limits(made).pack_a if name == "pack_a" else getattr(made, name)
        limit = most[0]
        scale = made.vector_a[0] if name == "weakening_a" else limit
        if held.limited[0, position] and name != "pack_a":
            assert limit - size[name] <= 2 * MET * scale
        if limit - size[name] > 10 * MET * scale and np.isfinite(limit):
            assert not held.limited[0, position]
