"""The braking envelope against trying every current, and its closed forms."""

import numpy as np
import pytest

from curves.point.braking import BRAKING_LIMITS, braking_point
from curves.point.limits import Drive

SQRT3 = 3**0.5


def drive(**given) -> Drive:
    """One machine, derived from nothing: a hub motor's orders of magnitude."""
    values = {
        "pole_pairs": 20.0,
        "flux": 0.033,
        "resistance": 0.09,
        "ld": 150e-6,
        "lq": 165e-6,
        "no_load_torque": 0.0,
        "no_load_drag": 0.0,
        "open_circuit_v": 50.0,
        "pack_resistance": 0.12,
        "standby_w": 3.0,
        "modulation": 0.95,
        "vector_a": 75.0,
        "torque_a": np.inf,
        "weakening_a": 30.0,
        "mtpa_per_a": 0.0,
        "pack_a": 30.0,
        "cap_w": np.inf,
        "cutoff_v": 0.0,
        "foldback_start_v": 0.0,
        "foldback_end_v": 0.0,
        "derating_a": [0.0],
        "derating": [1.0],
    } | given
    return Drive(
        **{
            name: np.atleast_2d(x) if name.startswith("derating") else np.atleast_1d(x)
            for name, x in ((k, np.asarray(v, dtype=float)) for k, v in values.items())
        }
    )


def tried(d: Drive, w: float, regen_a: float, full_v: float, i_d, steps: int):
    """Deepest torque at each i_d by stepping i_q down from zero until any inequality breaks."""
    one = {k: float(np.ravel(x)[0]) for k, x in d._asdict().items() if "derating" not in k}
    at, factor = d.derating_a[0], d.derating[0]
    most = min(one["vector_a"], one["torque_a"])
    a = np.asarray(i_d, dtype=float)[:, None]
    q = -np.linspace(0.0, most, steps)[None, :]
    length = np.hypot(a, q)
    torque = 1.5 * one["pole_pairs"] * (one["flux"] + (one["ld"] - one["lq"]) * a) * q
    torque = torque * np.interp(length, at, factor)
    power = one["standby_w"] + 1.5 * one["resistance"] * length**2 + w * torque
    half, ohm = one["open_circuit_v"] / 2, one["pack_resistance"]
    volts = half + np.sqrt(np.maximum(half**2 - ohm * power, 0.0))
    we = w * one["pole_pairs"]
    v_d = one["resistance"] * a - we * one["lq"] * q
    v_q = one["resistance"] * q + we * (one["ld"] * a + one["flux"])
    fine = length <= one["vector_a"] * (1 + 1e-12)
    fine &= -q <= one["torque_a"]
    fine &= np.hypot(v_d, v_q) <= one["modulation"] / SQRT3 * volts + 1e-12
    fine &= power / volts >= -regen_a
    fine &= volts <= full_v * (1 + 1e-15)
    # A full pack takes no charge, even one without resistance, whose volts do not rise.
    fine &= (power >= 0) | (one["open_circuit_v"] < full_v)
    fine &= power <= power[:, :1] + 1e-12
    allowed = np.logical_and.accumulate(fine, axis=1)
    return np.where(allowed.any(axis=1), np.min(np.where(allowed, torque, 0.0), axis=1), np.nan)


def brute_force(d: Drive, w: float, regen_a: float, full_v: float) -> float:
    """A grid over all of i_d, and a finer one around its best."""
    low = -min(float(d.weakening_a[0]), float(d.vector_a[0]))
    grid = np.linspace(low, 0.0, 201)
    best = np.nan
    for steps in (501, 2001, 8001):
        values = tried(d, w, regen_a, full_v, grid, steps)
        if np.isnan(values).all():
            return best
        k = int(np.nanargmin(values))
        best = float(values[k])
        grid = np.linspace(grid[max(k - 1, 0)], grid[min(k + 1, len(grid) - 1)], 41)
    return best


def cases(count: int, *, derated: bool = False, by_voltage: bool = False):
    """Machines over the legal range; or fast and resistive, with a pack that takes anything."""
    random = np.random.default_rng(11)
    for _ in range(count):
        u = random.uniform
        given = {
            "flux": 10 ** u(-2.3, -1.0),
            "resistance": random.choice([0.0, 10 ** u(-2.5, -0.3)]),
            "ld": 10 ** u(-4.6, -3.2),
            "open_circuit_v": u(20.0, 100.0),
            "pack_resistance": random.choice([0.0, 10 ** u(-2.0, 0.3)]),
            "standby_w": random.choice([0.0, u(0.0, 30.0)]),
            "modulation": u(0.8, 1.1),
            "vector_a": 10 ** u(0.7, 2.3),
        }
        given["lq"] = given["ld"] * random.choice([1.0, u(1.0, 3.0)])
        given["weakening_a"] = random.choice([0.0, u(0.0, 1.2)]) * given["vector_a"]
        if random.random() < 0.2:
            given |= {"torque_a": given["vector_a"], "vector_a": 1.5 * given["vector_a"]}
        if by_voltage:
            phase_v = given["open_circuit_v"] / SQRT3
            given["resistance"] = u(0.2, 0.8) * phase_v / given["vector_a"]
            given["ld"] = u(0.3, 1.5) * given["flux"] / given["vector_a"]
            given["lq"] = given["ld"] * random.choice([1.0, u(1.0, 2.0)])
            given["weakening_a"] = u(0.3, 1.2) * given["vector_a"]
        if derated:
            x = np.array([0.2, 0.5, 1.1]) * given["vector_a"]
            given |= {"derating_a": x, "derating": [1.0, u(0.85, 1.0), u(0.55, 0.8)]}
        d = drive(**given)
        ideal = given["modulation"] * given["open_circuit_v"] / (SQRT3 * 20.0 * given["flux"])
        full = given["open_circuit_v"] * random.choice([1.0, 1.02, u(1.0, 1.3), np.inf])
        if by_voltage:
            yield d, ideal * u(0.7, 1.4), 1e4, np.inf
        else:
            yield d, ideal * u(0.0, 1.5), float(10 ** u(-0.5, 2.0)), float(full)


@pytest.mark.parametrize(
    ("derated", "by_voltage", "count"),
    [(False, False, 100), (True, False, 15), (False, True, 20), (True, True, 12)],
)
def test_the_deepest_torque_is_that_of_trying_every_current(derated, by_voltage, count):
    seen = np.zeros(len(BRAKING_LIMITS), dtype=int)
    none = 0
    for d, w, regen_a, full_v in cases(count, derated=derated, by_voltage=by_voltage):
        got = braking_point(d, np.array([w]), regen_a, full_v)
        want = brute_force(d, w, regen_a, full_v)
        seen += got.met[0]
        scale = 1.5 * 20.0 * float(d.flux[0]) * float(min(d.vector_a[0], d.torque_a[0]))
        if np.isnan(want):
            none += 1
            # Only a sliver of i_d between two nodes of the grid may hold.
            assert np.isnan(got.torque[0]) or got.torque[0] > -0.02 * scale
            continue
        # The last grid steps i_q by 1/8000 of the phase current and never passes a limit; its i_d
        # is within 1/4000 of the range from the best.
        assert got.torque[0] <= want + 1e-9 * scale
        assert got.torque[0] == pytest.approx(want, abs=2e-3 * scale)
    assert none < count / 2
    if by_voltage:
        assert seen[BRAKING_LIMITS.index("voltage")] > count / 4
    elif not derated:
        assert (seen > 0).all(), dict(zip(BRAKING_LIMITS, seen, strict=True))


def test_shapes_broadcast_and_blocks_agree_with_single_points():
    d = drive(flux=np.array([0.02, 0.03, 0.05]))
    d = Drive(*(x.reshape(-1, 1) if x.ndim == 1 else x[:, None, :] for x in d))
    w = np.linspace(0.0, 40.0, 7)
    whole = braking_point(d, w, 8.0, 55.0)
    assert whole.torque.shape == (3, 7)
    assert whole.met.shape == (3, 7, len(BRAKING_LIMITS))
    one = Drive(*(x[2] if x.shape[0] == 3 else x[0] for x in d))
    single = braking_point(one, w[4:5], 8.0, 55.0)
    assert single.torque[0] == whole.torque[2, 4]


def test_charging_is_held_at_the_regen_current_and_raises_the_volts():
    """Derived: with R = 0 and no saliency, P = standby - w |T| = -I (V_oc + R_pack I)."""
    d = drive(resistance=0.0, lq=150e-6)
    got = braking_point(d, np.array([40.0]), 5.0, np.inf)
    power = 5.0 * (50.0 + 0.12 * 5.0) + 3.0
    assert got.torque[0] == pytest.approx(-power / 40.0, rel=1e-9)
    # Among equal torques the least current.
    assert got.current_d[0] == pytest.approx(0.0, abs=1e-6)
    assert [w for w, met in zip(BRAKING_LIMITS, got.met[0], strict=True) if met] == [
        "regen pack current"
    ]


def test_a_full_pack_takes_no_charge():
    """Derived: what the controller and the copper burn is all that is left to brake with."""
    d = drive()
    got = braking_point(d, np.array([20.0]), 20.0, 50.0)
    burnt = 3.0 + 0.135 * (got.current_d**2 + got.current_q**2)
    assert -20.0 * got.torque == pytest.approx(burnt, rel=1e-9)
    assert got.met[0, BRAKING_LIMITS.index("full-charge voltage")]
    assert braking_point(d, np.array([20.0]), 20.0, 60.0).torque[0] < 3 * got.torque[0]


def test_braking_never_takes_power_beyond_that_of_no_torque():
    """Derived: at crawling speed 1.5 R i_q^2 = w T ends it, so i_q = -w p flux / R."""
    d = drive(lq=150e-6, weakening_a=0.0)
    got = braking_point(d, np.array([0.5]), 20.0, np.inf)
    assert got.current_q[0] == pytest.approx(-0.5 * 20.0 * 0.033 / 0.09, rel=1e-9)
    assert got.met[0, BRAKING_LIMITS.index("plugging")]


def test_nothing_at_rest_nor_without_regen_and_nan_where_the_controller_is_off():
    assert braking_point(drive(), np.array([0.0]), 10.0, np.inf).torque[0] == 0
    assert braking_point(drive(), np.array([10.0]), 0.0, np.inf).torque[0] == 0
    dead = braking_point(drive(cutoff_v=51.0), np.array([10.0]), 10.0, np.inf)
    assert np.isnan(dead.torque[0])
    assert not dead.met.any()
    starved = braking_point(drive(cap_w=2.0), np.array([10.0]), 10.0, np.inf)
    assert np.isnan(starved.torque[0])


def test_nan_where_weakening_cannot_hold_zero_torque():
    d = drive(weakening_a=0.0)
    w = 1.01 * 0.95 * 50.0 / (SQRT3 * 20.0 * 0.033)
    assert np.isnan(braking_point(d, np.array([w]), 10.0, np.inf).torque[0])
    assert braking_point(drive(), np.array([w]), 10.0, np.inf).torque[0] < 0


@pytest.mark.parametrize("pack_resistance", [0.0, 0.12])
@pytest.mark.parametrize("factors", [[1.0], [1.0, 0.8]])
def test_a_pack_above_its_full_charge_cannot_even_be_held(pack_resistance, factors):
    """Nothing drawn at zero torque brings its volts down to full, with or without saturation."""
    d = drive(
        pack_resistance=pack_resistance, derating_a=[0.0, 80.0][: len(factors)], derating=factors
    )
    assert np.isnan(braking_point(d, np.array([20.0]), 10.0, 40.0).torque[0])
