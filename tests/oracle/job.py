"""Whole jobs by the rulings of the job file's page: ``curves`` and ``top_speed`` of job trees.

Every answer comes from ``point.best``. A tree is what a TOML reader gives, with each motor's fields
written out (no profiles). Setups of many jobs are worked on at once, as arrays.
"""

import numpy as np
from scipy.optimize import elementwise

from tests.oracle.point import (
    FINE,
    LONG,
    ROOT,
    SCAN,
    WORDS,
    Points,
    best,
    golden,
    limited,
    most_power,
    pack_volts,
    phase_volts,
    power,
    volts_allowed,
)

PI = LONG("3.14159265358979323846")
KMH, RPM, G = 1 / LONG("3.6"), PI / 30, LONG("9.80665")
CEILINGS = ("speed cap", "motor speed", "electrical speed")
TIE = 1e-9
"""Forces of two gears within this of each other, relative, are a tie."""
AT = LONG("1e-9")
FASTEST = 2000.0
"""Road speed, m/s, past which nothing is looked for."""


def chen2020(soc):
    """CHECKS 18: Chen et al., J. Electrochem. Soc. 167, 080534, 2020; one NMC 811 21700 cell."""
    x = LONG("0.026346") + soc * (LONG("0.910618") - LONG("0.026346"))
    y = LONG("0.853975") + soc * (LONG("0.263845") - LONG("0.853975"))
    negative = (
        LONG("1.9793") * np.exp(LONG("-39.3631") * x)
        + LONG("0.2482")
        - LONG("0.0909") * np.tanh(LONG("29.8538") * (x - LONG("0.1234")))
        - LONG("0.04478") * np.tanh(LONG("14.9159") * (x - LONG("0.2769")))
        - LONG("0.0205") * np.tanh(LONG("30.4444") * (x - LONG("0.6103")))
    )
    positive = (
        LONG("-0.8090") * y
        + LONG("4.4875")
        - LONG("0.0428") * np.tanh(LONG("18.5138") * (y - LONG("0.5542")))
        - LONG("17.7326") * np.tanh(LONG("15.7890") * (y - LONG("0.3117")))
        + LONG("17.5842") * np.tanh(LONG("15.9308") * (y - LONG("0.3120")))
    )
    return positive - negative


def aligned(mtpa, flux, delta, current, by_torque):
    """I_mtpa at a phase limit; zero without saliency or where the controller does not use it."""
    k = np.where(by_torque, 1, 2)
    used = (delta > 0) & (mtpa > 0)
    root = np.sqrt(flux**2 + 4 * k * (delta * current) ** 2)
    return np.where(used, (root - flux) / (2 * k * np.where(used, delta, 1)), LONG(0))


def setup(tree, one):
    """One setup's numbers in SI, from the tables it names."""
    motor, pack = tree["motor"][one["motor"]], tree["pack"][one["pack"]]
    tune, bike = tree["tune"][one["tune"]], tree["bike"][one["bike"]]
    control = tree["controller"][one["controller"]] if one.get("controller") else {}
    air = tree.get("conditions", {})

    def of(table, name, default=0.0):
        return LONG(table.get(name, default))

    inf = LONG(np.inf)
    basis = np.sqrt(LONG(2)) if tune.get("current_basis", "peak") == "rms" else LONG(1)
    pairs = of(motor, "pole_pairs")
    flux = 60 / (2 * PI * np.sqrt(LONG(3)) * pairs * of(motor, "kv_rpm_per_v"))
    flux *= 1 + of(motor, "magnet_coefficient_per_k", -0.0011) * (of(one, "magnet_c", 20) - 20)
    ohm = of(motor, "resistance_ohm") / 2 * (1 + LONG("0.00393") * (of(one, "winding_c", 20) - 20))
    switch = of(control, "resistance_mohm") / 1000
    cell_v, cell_ohm = LONG(0), LONG(0)
    v_oc, r_pack = of(pack, "open_circuit_v"), of(pack, "resistance_ohm")
    if "cell" in pack:
        assert pack["cell"] == "nmc-21700"
        cell_v = chen2020(of(one, "state_of_charge", 1))
        cell_ohm = of(pack, "cell_resistance_mohm") * of(pack, "resistance_factor", 1)
        cell_ohm = cell_ohm / of(pack, "parallel") / 1000
        v_oc = of(pack, "series") * cell_v
        r_pack = of(pack, "series") * cell_ohm + of(pack, "wiring_resistance_mohm") / 1000
    rating = of(control, "max_phase_current_a", inf) * basis
    phase = min(of(tune, "phase_current_a") * basis, rating)
    by_torque = tune.get("phase_limit", "vector") == "torque"
    ld, lq = of(motor, "inductance_d_uh") / 2 / 10**6, of(motor, "inductance_q_uh") / 2 / 10**6
    mtpa = LONG(control.get("mtpa", True))
    finals = bike.get("gear_ratios") or [bike.get("final_drive_ratio", 1.0)]
    air_k = of(air, "air_c", 20) + LONG("273.15")
    pressure = 1 - LONG("0.0065") * of(air, "altitude_m") / LONG("288.15")
    pressure = 101325 * pressure ** LONG("5.2558797")
    mass = of(bike, "bike_mass_kg") + of(pack, "mass_kg") + of(bike, "rider_kg")
    table = motor.get("torque_derating", [(0.0, 1.0)])
    coast = bike.get("road_load_n")
    return {
        "p": pairs,
        "lam": flux,
        "R": ohm + switch,
        "Ld": ld,
        "Lq": lq,
        "T0": of(motor, "no_load_torque_nm"),
        "c1": of(motor, "no_load_torque_nm_per_rad_s"),
        "Voc": v_oc,
        "Rp": r_pack,
        "standby": of(control, "standby_w"),
        "m": of(control, "max_modulation", 1),
        "vector": rating if by_torque else phase,
        "torque": phase if by_torque else inf,
        "depth": of(tune, "field_weakening_a") * basis
        + aligned(mtpa, flux, lq - ld, phase, by_torque),
        "Ipack": min(
            of(tune, "pack_current_a", inf),
            of(control, "max_pack_current_a", inf),
            of(pack, "peak_current_a", inf),
        ),
        "Pcap": of(tune, "power_cap_w", inf),
        "Vcut": max(of(tune, "low_voltage_cutoff_v"), of(pack, "bms_cutoff_v")),
        "Vstart": of(control, "foldback_start_v"),
        "Vend": of(control, "foldback_end_v"),
        "nose": LONG(1),
        "amps": [LONG(x) for x, _ in table],
        "factor": [LONG(y) for _, y in table],
        # what the solver does not need
        "ratios": [of(motor, "gear_ratio", 1) * LONG(x) for x in sorted(finals)],
        "radius": of(bike, "circumference_m") / (2 * PI),
        "eta": of(motor, "gear_efficiency", 1) * of(bike, "final_drive_efficiency", 1),
        "clutch": LONG(motor.get("overrunning_clutch", False)),
        "cap_v": of(tune, "speed_cap_kmh", inf) * KMH,
        "cap_w": of(motor, "max_rpm", inf) * RPM,
        "cap_e": of(control, "max_electrical_rpm", inf) * RPM / pairs,
        "mass": mass + of(bike, "load_kg"),
        "grade": of(air, "grade_percent") / 100,
        "wind": of(air, "headwind_kmh") * KMH,
        "density": pressure / (LONG("287.05287") * air_k),
        "f0": LONG(coast[0]) if coast else LONG(0),
        "f1": LONG(coast[1]) if coast else LONG(0),
        "f2": LONG(coast[2]) if coast else LONG(0),
        "rolling": of(bike, "rolling_coefficient"),
        "area": LONG(0) if coast else of(bike, "drag_area_m2"),
        "coast": LONG(bool(coast)),
        "rider": of(bike, "rider_power_w"),
        # what gains per unit need
        "basis": basis,
        "mtpa": mtpa,
        "series": of(pack, "series") if "cell" in pack else LONG(np.nan),
        "cell_v": cell_v,
        "cell_ohm": cell_ohm,
        "pack_kg": of(pack, "mass_kg"),
        "switch": switch,
    }


def setups(trees):
    """All setups of some jobs as one dictionary of arrays; ragged lists repeat their last item."""
    rows = [setup(tree, one) for tree in trees for one in tree["setup"]]
    out = {}
    for name in rows[0]:
        values = [row[name] for row in rows]
        if isinstance(values[0], list):
            most = max(map(len, values))
            values = [[*v, *([v[-1]] * (most - len(v)))] for v in values]
        out[name] = np.array(values, dtype=LONG)
    return out


def rows(r, at):
    """Some of the setups."""
    return {name: x[at] for name, x in r.items()}


def road(r, v):
    """Road load, N, at one road speed a setup."""
    cosine = 1 / np.sqrt(1 + r["grade"] ** 2)
    through = (v + r["wind"]) * np.abs(v + r["wind"])
    weight = r["mass"] * G * cosine
    level = weight * r["rolling"] + r["density"] * r["area"] * through / 2
    measured = r["f0"] + r["f1"] * v + r["f2"] * through
    return weight * r["grade"] + np.where(r["coast"] > 0, measured, level)


def points(r, w, effort=FINE):
    """Points of the solver, one a setup."""
    return Points.of(r, w, effort)


def shaft(r, w, effort=FINE):
    """Best shaft torque at rotor speeds (NaN where none of zero or more), and the currents."""
    s = points(r, w, effort)
    t, i_d, i_q = best(s)
    t = t - s["T0"] - s["c1"] * s["w"]
    none = ~(t >= 0)
    return tuple(np.where(none, np.nan, z) for z in (t, i_d, i_q))


def draw(r, v, effort=FINE):
    """Best gear at one road speed a setup: ratio, speed, torque, currents, rim force, words."""
    out = None
    for gear in range(r["ratios"].shape[1]):
        ratio = r["ratios"][:, gear]
        other = np.flatnonzero(ratio != r["ratios"][:, gear - 1]) if gear else np.arange(v.size)
        new = _in_gear(rows(r, other), ratio[other], v[other], effort)
        if out is None:
            out = new
            continue
        # The taller comes first and keeps a tie.
        held = np.nan_to_num(out["force"][other], nan=-1)
        with np.errstate(invalid="ignore"):
            wins = new["force"] > held + TIE * np.abs(held)
        for name, x in out.items():
            x[..., other[wins]] = new[name][..., wins]
    return out


def _in_gear(r, ratio, v, effort):
    w = v / r["radius"] * ratio
    t, i_d, i_q = shaft(r, w, effort)
    gauges = ((v, r["cap_v"]), (w, r["cap_w"]), (w, r["cap_e"]))
    passed = np.array([x > c * (1 + AT) for x, c in gauges])
    barred = passed.any(axis=0)
    t, i_d, i_q = (np.where(barred, np.nan, z) for z in (t, i_d, i_q))
    at = np.array([x >= c * (1 - AT) for x, c in gauges]) & ~np.isnan(t)
    force = t * ratio * r["eta"] / r["radius"]
    out = {"ratio": np.copy(ratio), "w": w, "t": t, "i_d": i_d, "i_q": i_q, "force": force}
    return out | {"over": np.where(barred, passed, at)}


def held(r, w):
    """What limits the largest torque at rotor speeds, driven or just not; see ``Held``."""
    s = points(r, w)
    return limited(s, *best(s))


def words(on):
    """Words of one point, from flags in the order of the limits and then the ceilings."""
    return [w for w, yes in zip(WORDS + CEILINGS, on, strict=True) if yes]


def curves(r, speed_kmh):
    """Columns of ``curves``, one road speed a setup, as arrays with NaN for null.

    What limits is two lists of words a point: what surely does, and what perhaps does.
    """
    v = np.asarray(speed_kmh, dtype=LONG) * KMH
    at = draw(r, v)
    s = points(r, at["w"])
    drawn = power(s, at["i_d"], at["i_q"])
    volts = pack_volts(s, drawn)
    none = np.isnan(at["t"])[:, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        efficiency = np.where(drawn == 0, np.nan, at["t"] * at["w"] / drawn)
    return {
        "rotor_rpm": at["w"] / RPM,
        "torque_nm": at["t"],
        "rim_force_n": at["force"],
        "road_force_n": road(r, v),
        "shaft_power_w": at["t"] * at["w"],
        "pack_power_w": drawn,
        "pack_voltage_v": volts,
        "pack_current_a": drawn / volts,
        "phase_current_a": np.hypot(at["i_d"], at["i_q"]),
        "current_d_a": at["i_d"],
        "current_q_a": at["i_q"],
        "efficiency": efficiency,
        "limited_by": [
            [words([*x, *o]) for x, o in zip(flags & ~none, at["over"].T, strict=True)]
            for flags in held(r, at["w"])
        ],
    }


def root(f, r, low, high):
    """Where f(rows of r, x) changes sign between low and high, one root a setup."""
    index = np.arange(low.size)

    def g(x, k):
        k = k.astype(int)
        return np.asarray(f(rows(r, k), x), dtype=float)

    found = elementwise.find_root(
        g,
        (np.asarray(low, dtype=float), np.asarray(high, dtype=float)),
        args=(index.astype(float),),
        tolerances={"xatol": 1e-12, "xrtol": 1e-13, "fatol": 0, "frtol": 0},
    )
    assert found.success.all(), (found.status, low, high, found.x)
    return found.x


def ideal(r):
    """Kv(T) m V_oc, rad/s."""
    return r["m"] * r["Voc"] / (np.sqrt(LONG(3)) * r["p"] * r["lam"])


def no_load(r):
    """Rotor speed, rad/s, at which the best shaft torque is 0; NaN where there is none."""

    def torque(part, w):
        s = points(part, w, ROOT)
        t = best(s)[0] - s["T0"] - s["c1"] * s["w"]
        return np.where(np.isnan(t), -1e-6 * s["lam"], t)

    zero, end = 0 * ideal(r), 10 * ideal(r)
    at = np.flatnonzero((torque(r, zero) >= 0) & (torque(r, end) < 0))
    out = np.full(zero.size, np.nan, dtype=LONG)
    if at.size:
        out[at] = root(torque, rows(r, at), zero[at], end[at])
    return out


def voltage_excess(r, w, effort=FINE):
    """By how much the point that would hold without the voltage limit breaks it, relative.

    Where torque is level over a stretch of i_d, the torque that the voltage limit costs.
    """
    s = points(r, w, effort)
    t, i_d, i_q = best(s, volts=False)
    v = volts_allowed(s, power(s, i_d, i_q))
    excess = phase_volts(s, i_d, i_q) / v - 1
    # Level: a limit on power without resistance, or one on i_q without saliency.
    near = 1 - (1e-6 if effort is SCAN else 1e-12)
    by_power = (s["R"] == 0) & (power(s, i_d, i_q) >= most_power(s) * near)
    by_i_q = (s["Ld"] == s["Lq"]) & (i_q >= s["torque"] * near)
    at = np.flatnonzero((by_power | by_i_q) & (excess > 0))
    if at.size:
        got = np.nan_to_num(best(s.each(lambda x: x[at]))[0], nan=-1.0)
        excess[at] = t[at] * (1 - (1e-8 if effort is SCAN else 1e-11)) - got
    return np.where(np.isnan(t), -1, excess)


def base(r, nothing, nodes=160):
    """Lowest rotor speed at which voltage limits, rad/s; NaN where it never does.

    Args:
        r: The setups.
        nothing: Their no-load speed in rad/s; NaN for none.
        nodes: Steps of the grid that is looked through first.
    """
    n = nothing.size
    end = np.where(np.isnan(nothing), 10 * ideal(r), nothing)
    out = np.full(n, np.nan, dtype=LONG)
    grid = end[:, None] * np.linspace(0, 1, nodes + 1).astype(LONG)
    many = {name: np.repeat(x, nodes + 1, axis=0) for name, x in r.items()}
    y = voltage_excess(many, grid.ravel(), SCAN).reshape(grid.shape)
    # A window narrower than the grid shows as a peak just below zero.
    inner = np.arange(1, nodes)
    peak = (y[:, inner] >= y[:, inner - 1]) & (y[:, inner] >= y[:, inner + 1])
    peak &= (y[:, inner] > -0.3) & (y[:, inner] <= 0)
    i, k = np.nonzero(peak)
    k = inner[k]
    if i.size:
        part = rows(r, i)
        top = golden(lambda w: voltage_excess(part, w, SCAN), grid[i, k - 1], grid[i, k + 1], 45)
        value = voltage_excess(part, top, SCAN)
        for j in np.flatnonzero(value > 1e-9):
            grid[i[j], k[j]], y[i[j], k[j]] = top[j], value[j]
    over = y > 1e-9
    while True:
        first = np.argmax(over, axis=1)
        at = np.flatnonzero(over.any(axis=1))
        # What the coarse look took for a limit may be none.
        sure = voltage_excess(rows(r, at), grid[at, first[at]], ROOT) > 0
        if sure.all():
            break
        over[at[~sure], first[at[~sure]]] = False
    out[over[:, 0]] = 0
    at = at[first[at] > 0]
    if at.size:
        low, high = grid[at, first[at] - 1], grid[at, first[at]]
        sure = voltage_excess(rows(r, at), low, ROOT) < 0
        out[at] = low
        part = rows(r, at[sure])
        out[at[sure]] = root(lambda q, w: voltage_excess(q, w, ROOT), part, low[sure], high[sure])
    drives = shaft(r, 0 * end, ROOT)[0] >= 0
    return np.where(drives, out, np.nan)


def drag(r, v):
    """Rim force of the no-load torque that the wheel drags along in the tallest gear."""
    tall = r["ratios"][:, 0]
    torque = r["T0"] + r["c1"] * v / r["radius"] * tall
    return np.where(r["clutch"] > 0, 0, torque * tall / (r["radius"] * r["eta"]))


def caps(r):
    """Road speeds of the three ceilings in the tallest gear, m/s, shape (3, setups)."""
    per = r["radius"] / r["ratios"][:, 0]
    return np.array((r["cap_v"], r["cap_w"] * per, r["cap_e"] * per))


def surplus(r, v, nothing, effort=FINE):
    """Rim force and the rider's, less road load; past its no-load speed the motor is dragged."""
    at = draw(r, v, effort)
    # Null at the no-load speed itself is rounding; null at rest is no motor to speak of.
    past = (at["w"] > nothing * (1 + AT)) | (np.isnan(nothing) & (v > 0))
    force = np.where(np.isnan(at["force"]), np.where(past, -drag(r, v), 0), at["force"])
    return force + np.where(v >= 1, r["rider"] / np.maximum(v, 1), 0) - road(r, v)


def top_speed(r, nothing, nodes=96):
    """Top speed, m/s (NaN: cannot start), what limits it (surely, and perhaps), how it is held.

    Args:
        r: The setups.
        nothing: Their no-load speed in rad/s; NaN for none.
        nodes: Steps of the grid that is looked through first.
    """
    zero = np.zeros(nothing.size, dtype=LONG)
    starts = surplus(r, zero, nothing, ROOT) > 0
    # A motor that gives nothing even at rest drives to no speed at all.
    dead = np.isnan(shaft(r, zero, ROOT)[0])
    ceiling = caps(r)
    speed = _driven(r, nothing, starts, dead, ceiling.min(axis=0), nodes)
    at_end = speed >= ceiling.min(axis=0) * (1 - LONG("1e-12"))
    rolled = np.flatnonzero(starts & (pull(r, speed) < 0))
    coasting = np.zeros(nothing.size, dtype=bool)
    if rolled.size:
        part, low = rows(r, rolled), speed[rolled]
        high = np.maximum(2 * low, 1)
        while np.any(short := pull(part, high) < 0):
            high = np.where(short, 2 * high, high)
        speed[rolled] = root(pull, part, low, high)
        coasting[rolled] = True
    # A dead motor on a slope that does not roll it is moved by nothing.
    helped = (r["rider"] > 0) & (pull(r, zero) < 0)
    speed = np.where(starts & (~dead | coasting | helped), speed, np.nan)
    w = np.nan_to_num(draw(r, np.nan_to_num(speed))["w"])
    at_end &= ~coasting & ~np.isnan(speed)
    # Past its no-load speed the motor holds nothing: the rider does.
    idle = (w > nothing * (1 + AT)) | dead
    pushed = idle & ~coasting & (road(r, np.nan_to_num(speed)) < 0)
    said = [
        [words([*(x & ~off), False, False, False]) for x, off in zip(flags, idle, strict=True)]
        for flags in held(r, w)
    ]
    for j in np.flatnonzero(np.isnan(speed) | coasting | pushed | at_end):
        near = at_end[j] & (ceiling[:, j] <= ceiling[:, j].min() * (1 + AT))
        only = (
            ["coasting"]
            if coasting[j] or (pushed[j] and not at_end[j])
            else words([False] * 6 + list(near))
        )
        said[0][j] = said[1][j] = [] if np.isnan(speed[j]) else only
    return speed, said, coasting, at_end


def _driven(r, nothing, starts, dead, cap, nodes):
    """The first speed at which the force falls to the road load, or the end of what is driven."""
    none = nothing * r["radius"] / r["ratios"][:, 0]
    none = np.where(np.isnan(none), np.where(dead, 0, np.inf), none)
    last = np.where(r["rider"] > 0, FASTEST, np.minimum(none, FASTEST))
    last = np.minimum(last, cap)
    speed = np.copy(last)
    share = np.linspace(0, 1, nodes + 1).astype(LONG)
    grid = np.concatenate((last[:, None] * share**2, np.minimum(last, 1)[:, None]), axis=1)
    grid = np.sort(grid, axis=1)
    many = {name: np.repeat(x, grid.shape[1], axis=0) for name, x in r.items()}
    ends = np.repeat(nothing, grid.shape[1])
    y = surplus(many, grid.ravel(), ends, SCAN).reshape(grid.shape)
    below = (y < 0) & (grid > 0)
    k = np.argmax(below, axis=1)
    at = np.flatnonzero(below.any(axis=1) & starts)
    if at.size:
        low, high = grid[at, k[at] - 1], grid[at, k[at]]
        # The rider sets in at 1 m/s: what falls below the load before that has fallen for good.
        early = (high == 1) & (low < 1) & (r["rider"][at] > 0)
        high = np.where(early, np.nextafter(LONG(1), LONG(0)), high)
        part = rows(r, at)
        part["none"] = nothing[at]
        above, below = (surplus(part, v, part["none"], ROOT) for v in (low, high))
        sure = (above > 0) & (below < 0)
        speed[at] = high
        speed[at[sure]] = root(
            lambda q, v: surplus(q, v, q["none"], ROOT), rows(part, sure), low[sure], high[sure]
        )
    return speed


def pull(r, v):
    """Force against a bike that rolls: the road load and the no-load torque dragged along."""
    return road(r, v) + drag(r, v)


GAINS = (
    *("kmh_per_pack_v", "kmh_per_series_cell", "kmh_per_pack_a", "kmh_per_phase_a"),
    *("kmh_per_weakening_a", "kmh_per_w", "kmh_per_m2", "kmh_per_kg"),
)


def more(r, name, step):
    """The setups with ``step`` units more of one input, in the unit of its gain."""
    if name == "kmh_per_pack_v":
        return r | {"Voc": r["Voc"] + step}
    if name == "kmh_per_series_cell":
        mass = r["mass"] + step * r["pack_kg"] / r["series"]
        volts, ohm = r["Voc"] + step * r["cell_v"], r["Rp"] + step * r["cell_ohm"]
        return r | {"Voc": volts, "Rp": ohm, "mass": mass}
    if name == "kmh_per_pack_a":
        return r | {"Ipack": r["Ipack"] + step}
    if name == "kmh_per_phase_a":
        peak = step * r["basis"]
        by_torque = np.isfinite(r["torque"])
        phase = np.where(by_torque, np.minimum(r["torque"], r["vector"]), r["vector"])
        now, then = (
            aligned(r["mtpa"], r["lam"], r["Lq"] - r["Ld"], x, by_torque)
            for x in (phase, phase + peak)
        )
        longer = {"vector": r["vector"] + peak, "torque": r["torque"] + peak}
        return r | longer | {"depth": r["depth"] + then - now}
    if name == "kmh_per_weakening_a":
        return r | {"depth": r["depth"] + step * r["basis"]}
    if name == "kmh_per_w":
        return r | {"Pcap": r["Pcap"] + step}
    if name == "kmh_per_m2":
        return r | {"area": r["area"] + step}
    return r | {"mass": r["mass"] + step}


def gains(r, speed, nothing, coasting, at_end):
    """km/h at top speed per unit more of each input, by one-sided differences at two steps.

    Returns:
        Gains by name and, of the same shape, by how much their two steps disagree.
    """
    v = np.where(np.isnan(speed), 1, speed)

    def over(part, v):
        return np.where(coasting, -pull(part, v), surplus(part, v, nothing))

    def slope(change, size):
        here = over(r, v)
        wide, narrow = ((change(size * h) - here) / (size * h) for h in (2e-5, 1e-5))
        return 2 * narrow - wide, np.abs(narrow - wide)

    along, bend = slope(lambda h: over(r, v + h), np.maximum(v, 1))
    sizes = {
        "kmh_per_pack_v": r["Voc"],
        "kmh_per_series_cell": np.where(np.isnan(r["series"]), 1, r["series"]),
        "kmh_per_pack_a": np.where(np.isinf(r["Ipack"]), 1, r["Ipack"]),
        "kmh_per_w": np.where(np.isinf(r["Pcap"]), 1, r["Pcap"]),
        "kmh_per_m2": np.ones_like(v),
        "kmh_per_kg": r["mass"],
    }
    phase = np.where(np.isinf(r["torque"]), r["vector"], r["torque"]) / r["basis"]
    out, doubt = {}, {}
    for name in GAINS:
        rise, off = slope(lambda h, n=name: over(more(r, n, h), v), sizes.get(name, phase))
        free = ~at_end if name in ("kmh_per_m2", "kmh_per_kg") else ~at_end & ~coasting
        free |= coasting & (name == "kmh_per_series_cell")
        gain = np.where(free, -rise / along / KMH, 0)
        if name == "kmh_per_m2":
            gain = np.where(r["coast"] > 0, np.nan, gain)
        out[name] = np.where(np.isnan(speed), np.nan, gain)
        doubt[name] = (off + np.abs(rise / along) * bend) / np.abs(along) / KMH
    return out, doubt
