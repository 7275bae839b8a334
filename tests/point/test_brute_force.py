"""The operating point against trying currents (the oracle), and its gains against differences."""

import numpy as np
import pytest

from curves.point.gains import gains
from curves.point.limits import input_power, sagged_voltage
from curves.point.solve import operating_point, voltage_room
from tests.oracle.point import Points, allowed, best, halve, largest_i_q
from tests.point.random_drives import describe, random_drives, rows


def points(drive, speed):
    """The oracle's points of some drives."""
    fields = {
        "p": drive.pole_pairs,
        "lam": drive.flux,
        "R": drive.resistance,
        "Ld": drive.ld,
        "Lq": drive.lq,
        "T0": drive.no_load_torque,
        "c1": drive.no_load_drag,
        "Voc": drive.open_circuit_v,
        "Rp": drive.pack_resistance,
        "standby": drive.standby_w,
        "m": drive.modulation,
        "vector": drive.vector_a,
        "torque": drive.torque_a,
        "depth": drive.weakening_a,
        "Ipack": drive.pack_a,
        "Pcap": drive.cap_w,
        "Vcut": drive.cutoff_v,
        "Vstart": drive.foldback_start_v,
        "Vend": drive.foldback_end_v,
        "nose": np.ones_like(speed),
        "amps": drive.derating_a,
        "factor": drive.derating,
    }
    return Points.of(fields, speed.astype(np.longdouble))


def test_the_oracles_closed_roots_are_those_of_its_inequalities():
    drive, speed = random_drives(21, 1500, salient=True)
    s = points(drive, speed)
    rng = np.random.default_rng(3)
    i_d = -np.minimum(np.minimum(s["depth"], s["vector"]), 1e4) * rng.random(speed.size) ** 2
    top = np.minimum(np.sqrt(np.maximum(s["vector"] ** 2 - i_d**2, 0)), s["torque"])
    by_halving = halve(lambda q: allowed(s, i_d, q), 0 * i_d, top, 80)
    by_halving = np.where(allowed(s, i_d, top), top, by_halving)
    by_halving = np.where(allowed(s, i_d, 0 * i_d), by_halving, -1)
    closed = largest_i_q(s, i_d)
    assert (by_halving >= 0).sum() > 400
    # Both in extended precision; the halving ends at 1e-24 of its start.
    assert closed == pytest.approx(by_halving, rel=1e-15, abs=1e-15)


@pytest.mark.parametrize(
    ("kind", "count", "options"),
    [
        ("interior magnets", 500, {"salient": True}),
        ("surface magnets", 250, {"salient": False}),
        ("measured saturation", 120, {"salient": True, "derated": True}),
    ],
)
def test_largest_torque_of_any_currents(kind, count, options):
    drive, speed = random_drives(31, count, **options)
    with np.errstate(all="raise", under="ignore"):
        got = operating_point(drive, speed)
    torque, i_d, i_q = (np.asarray(x, dtype=float) for x in best(points(drive, speed)))
    assert np.isfinite(torque).sum() > count / 3
    scale = 1.5 * drive.pole_pairs * drive.flux * np.minimum(drive.vector_a, drive.torque_a)
    off = np.abs(np.nan_to_num(got.torque) - np.nan_to_num(torque))
    near = 1e-6 * np.maximum(torque, 1e-9 * scale)
    bad = np.flatnonzero(off > np.nan_to_num(near, nan=1e-12))
    worst = np.nanmax(off / np.maximum(torque, 1e-9 * scale))
    print(f"\n{kind}: {np.isfinite(torque).sum()} points, worst disagreement {worst:.1e}")
    assert bad.size == 0, [(got.torque[k], torque[k], describe(drive, speed, k)) for k in bad[:3]]
    # Torque is level about its peak: currents are known to the root of the oracle's precision.
    length = np.hypot(i_d, i_q)
    apart = np.hypot(got.current_d - i_d, got.current_q - i_q)
    bad = np.flatnonzero(apart > 1e-6 * length)
    assert bad.size == 0, [
        (got.current_d[k], i_d[k], got.current_q[k], i_q[k], describe(drive, speed, k))
        for k in bad[:3]
    ]


def test_what_is_driven_is_one_stretch_from_standstill():
    drive, _ = random_drives(41, 4000, salient=True)
    ideal = drive.modulation * drive.open_circuit_v / drive.flux / drive.pole_pairs / np.sqrt(3)
    speeds = ideal[:, None] * np.linspace(0, 3, 61)
    wide = drive._replace(
        **{name: getattr(drive, name)[:, None] for name in drive._fields[:-2]},
        derating_a=drive.derating_a[:, None],
        derating=drive.derating[:, None],
    )
    with np.errstate(all="raise", under="ignore"):
        torque = operating_point(wide, speeds).torque
    driven = ~np.isnan(torque)
    assert driven.sum() > 50_000
    # Once it cannot be driven, it cannot at any higher speed: no hole in a driven range.
    assert not np.any(driven[:, 1:] & ~driven[:, :-1])


@pytest.mark.parametrize("options", [{}, {"salient": True}, {"salient": True, "derated": True}])
def test_no_legal_input_warns_or_leaves_a_hole(options):
    count = 1000 if "derated" in options else 20_000
    drive, speed = random_drives(51, count, **options)
    with np.errstate(all="raise", under="ignore"):
        got = operating_point(drive, speed)
        held = gains(drive, speed, got)
        room = voltage_room(drive, speed)
    live = ~np.isnan(got.torque)
    assert np.all(np.isfinite(got.current_d[live]))
    assert np.all(np.isfinite(got.current_q[live]))
    assert not np.isnan(room).any()
    assert np.all(got.torque[live] >= 0)
    for name in ("phase", "weakening", "cap", "speed"):
        assert np.all(np.isfinite(getattr(held, name)[live])), name
    for name in ("phase", "weakening", "cap"):
        assert np.all(getattr(held, name)[live] >= 0), name
    # Infinite gains are null, and only at half the open-circuit volts or a stiff pack's cut-off.
    power = input_power(drive, speed, got.current_d, got.current_q)
    half = sagged_voltage(drive, power) <= drive.open_circuit_v * (0.5 + 1e-6)
    assert not np.any(np.isnan(held.pack[live & ~half]))
    # Something holds every point that gives torque.
    moves = live & (got.torque > 1e-9 * drive.flux * drive.pole_pairs)
    assert np.all(held.limited[moves].any(axis=1))


FIELDS = {
    "phase": "vector_a",
    "weakening": "weakening_a",
    "pack": "pack_a",
    "cap": "cap_w",
    "pack_v": "open_circuit_v",
    "pack_ohm": "pack_resistance",
    "speed": None,
}


@pytest.mark.parametrize("name", FIELDS)
@pytest.mark.parametrize("options", [{"salient": True}, {"salient": True, "derated": True}])
def test_gains_are_the_differences_for_more(name, options):
    """One-sided differences at two steps, and their error from those."""
    count = 400 if "derated" in options else 4000
    drive, speed = random_drives(61, count, torque_mode=False, **options)
    got = operating_point(drive, speed)
    held = gains(drive, speed, got)
    length = np.hypot(got.current_d, got.current_q)
    ideal = drive.modulation * drive.open_circuit_v / drive.flux / drive.pole_pairs / np.sqrt(3)
    field = FIELDS[name]
    if field is None:
        size = ideal
    elif name == "weakening":
        size = np.maximum(length, 1e-9)
    elif name == "pack_ohm":
        size = np.maximum(drive.pack_resistance, 1e-3)
    else:
        size = getattr(drive, field)

    def slope(step):
        h = step * size
        if field is None:
            more = operating_point(drive, speed + h).torque
        else:
            with np.errstate(invalid="ignore"):
                changed = {field: np.where(np.isinf(size), size, getattr(drive, field) + h)}
            if name == "phase":
                # The weakening that goes with most torque per ampere grows with the phase current.
                changed["weakening_a"] = drive.weakening_a + drive.mtpa_per_a * h
            more = operating_point(drive._replace(**changed), speed).torque
        return (more - got.torque) / step

    wide, narrow = slope(1e-4), slope(5e-5)
    difference, doubt = 2 * narrow - wide, np.abs(narrow - wide)
    with np.errstate(invalid="ignore"):
        gain = np.where(np.isinf(size), 0.0, getattr(held, name) * size)
    unit = 1.5 * drive.pole_pairs * drive.flux * length
    # A cut-off on a stiff pack, and V = V_oc / 2, gain without end: null.
    known = ~np.isnan(gain) & ~np.isnan(difference) & (got.torque > 1e-6 * unit)
    if name == "pack":
        # A pack current that folds back is a limit of its own, though it grows with the rating.
        known &= drive.foldback_start_v == 0
    # Torque to some 1e-13 over a step of 5e-5, and what the steps themselves disagree by.
    near = 1e-6 * unit + 3 * doubt
    bad = np.flatnonzero(known & (np.abs(gain - difference) > near))
    sharp = known & (doubt < 1e-3 * np.maximum(np.abs(gain), 1e-3 * unit))
    print(f"\n{name}: {known.sum()} gains compared, {(sharp & (gain != 0)).sum()} sharp and not 0")
    assert (sharp & (gain != 0)).sum() > count / 100
    # A kink within the step is a wrong difference, not a wrong gain; few points are so near one.
    assert bad.size <= count / 1000, [
        (gain[k], difference[k], doubt[k], unit[k], held.limited[k], describe(drive, speed, k))
        for k in bad[:3]
    ]


_ = rows
