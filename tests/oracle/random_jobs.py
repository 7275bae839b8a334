"""Random legal jobs with every feature of the job file that ``curves`` and ``top-speed`` read.

Sizes are drawn by what they do (ampere-turns against magnets, sag against volts) so that every
limit binds in a good share of the jobs; a part of the jobs leaves the range of real bikes.
"""

import math


def job(rng, setups=1):
    """A job's tree of one or more setups, each with parts of its own."""
    tree = {"format": "rimforce-job-1", "title": "random", "conditions": _conditions(rng)}
    for kind in ("motor", "controller", "pack", "tune", "bike"):
        tree[kind] = {}
    tree["setup"] = []
    for k in range(setups):
        one = _setup(rng, tree, f"s{k}")
        tree["setup"].append(one)
    if not tree["controller"]:
        del tree["controller"]
    return tree


def _conditions(rng):
    out = {}
    if rng.random() < 0.6:
        out["grade_percent"] = rng.choice([0.0, rng.uniform(-8, 0), rng.uniform(0, 15)])
    if rng.random() < 0.5:
        out["headwind_kmh"] = rng.uniform(-40, 40)
    if rng.random() < 0.5:
        out["altitude_m"] = rng.uniform(-200, 4000)
    if rng.random() < 0.5:
        out["air_c"] = rng.uniform(-20, 40)
    return out


def log(rng, low, high):
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def maybe(rng, chance, value, otherwise=0.0):
    return value if rng.random() < chance else otherwise


def _setup(rng, tree, name):  # noqa: C901 - a plain list of draws
    volts = log(rng, 20, 110)
    pack, volts, soc = _pack(rng, volts)
    pairs = rng.randint(1, 30)
    kv = log(rng, 4, 300)
    magnet_c = rng.choice([20.0, rng.uniform(-20, 120)])
    alpha = rng.choice([None, -0.0012, 0.0, -0.002])
    flux = 60 / (2 * math.pi * math.sqrt(3) * pairs * kv)
    phase = log(rng, 5, 300)
    # L I over the flux, R I over the phase volts, watts over V_oc^2 / 4 R_pack.
    lq = flux / phase * log(rng, 0.02, 2.5)
    ld = lq / rng.choice([1.0, 1.0, rng.uniform(1, 3.5), 1.01])
    ohm = 2 * maybe(rng, 0.9, log(rng, 1e-3, 0.7)) * volts / math.sqrt(3) / phase
    kt = 1.5 * pairs * flux
    basis = rng.choice(["peak", "peak", "rms"])
    derate = rng.random() < 0.08
    motor = {
        "kv_rpm_per_v": kv,
        "resistance_ohm": ohm,
        "inductance_d_uh": 2e6 * min(ld, lq),
        "inductance_q_uh": 2e6 * lq,
        "pole_pairs": pairs,
    }
    if rng.random() < 0.8:
        motor["no_load_torque_nm"] = kt * phase * log(rng, 1e-3, 0.1)
    if rng.random() < 0.7:
        rotor = kv * volts * math.pi / 30
        motor["no_load_torque_nm_per_rad_s"] = kt * phase / rotor * log(rng, 1e-3, 0.1)
    if alpha is not None:
        motor["magnet_coefficient_per_k"] = alpha
    # Overall ratio for a wheel that idles at so many km/h.
    roll_out = rng.uniform(1.2, 2.3)
    wheel_rpm = log(rng, 15, 140) / 3.6 / roll_out * 60
    overall = kv * volts / wheel_rpm
    inner = rng.choice([1.0, rng.uniform(2, 20)])
    if inner > 1:
        motor["gear_ratio"], motor["gear_efficiency"] = inner, rng.uniform(0.8, 1.0)
    motor["overrunning_clutch"] = rng.random() < 0.3
    if rng.random() < 0.12:
        motor["max_rpm"] = kv * volts * rng.uniform(0.3, 1.2)
    if derate:
        a = phase * rng.uniform(0.1, 0.6)
        b = a + phase * rng.uniform(0.2, 0.8)
        # Factor times current must not fall: the steepest fall ends at half over 1 + a / b.
        least = b / (2 * b - a) if b > a else 1.0
        motor["torque_derating"] = [[a, 1.0], [b, rng.uniform(least + 1e-3, 1.0)]]
    bike = _bike(rng, roll_out, overall / inner)
    tune = _tune(rng, phase, flux, lq, kt, volts, overall, roll_out, basis)
    one = {"name": name}
    if rng.random() < 0.8:
        tree["controller"][name] = _controller(rng, volts, phase, kv, pairs, basis)
        one["controller"] = name
    for kind, part in (("motor", motor), ("pack", pack), ("tune", tune), ("bike", bike)):
        tree[kind][name] = part
        one[kind] = name
    if soc is not None:
        one["state_of_charge"] = soc
    one["magnet_c"] = magnet_c
    if rng.random() < 0.5:
        one["winding_c"] = rng.uniform(-20, 160)
    return one


def _pack(rng, volts):
    pack, soc = {}, None
    sag = log(rng, 3e-3, 1.2)
    ampere = log(rng, 3, 150)
    if rng.random() < 0.6:
        series, parallel = max(1, round(volts / 3.7)), rng.randint(1, 12)
        volts = 3.7 * series
        ohm = sag * volts / ampere
        pack.update(cell="nmc-21700", series=series, parallel=parallel)
        share = rng.choice([1.0, rng.uniform(0.5, 0.99)])
        pack["cell_resistance_mohm"] = ohm * share / series * parallel * 1e3
        if share < 1:
            pack["wiring_resistance_mohm"] = ohm * (1 - share) * 1e3
        if rng.random() < 0.3:
            pack["resistance_factor"] = rng.uniform(0.8, 2.0)
        soc = rng.choice([None, rng.uniform(0, 1), rng.uniform(0.1, 1), 0.0])
    else:
        pack["open_circuit_v"] = volts
        pack["resistance_ohm"] = maybe(rng, 0.75, sag * volts / ampere)
    if rng.random() < 0.4:
        pack["peak_current_a"] = log(rng, 5, 200)
    if rng.random() < 0.4:
        pack["bms_cutoff_v"] = volts * rng.uniform(0.4, 0.95)
    if rng.random() < 0.7:
        pack["mass_kg"] = rng.uniform(1, 12)
    return pack, volts, soc


def _tune(rng, phase, flux, lq, kt, volts, overall, roll_out, basis):
    share = math.sqrt(2) if basis == "rms" else 1.0
    tune = {"phase_current_a": phase / share}
    if basis == "rms" or rng.random() < 0.5:
        tune["current_basis"] = basis
    watts = kt * phase * overall / roll_out * 2 * math.pi * 8
    if rng.random() < 0.55:
        tune["pack_current_a"] = watts / volts * log(rng, 0.1, 2)
    if rng.random() < 0.4:
        tune["power_cap_w"] = watts * log(rng, 0.1, 2)
    reach = rng.choice([0.0, phase * rng.uniform(0, 1), flux / lq * rng.uniform(0, 1.6), 1e4])
    if reach:
        tune["field_weakening_a"] = reach / share
    if rng.random() < 0.2:
        tune["phase_limit"] = "torque"
    if rng.random() < 0.3:
        tune["low_voltage_cutoff_v"] = volts * rng.uniform(0.4, 0.99)
    if rng.random() < 0.12:
        tune["speed_cap_kmh"] = rng.uniform(10, 60)
    return tune


def _controller(rng, volts, phase, kv, pairs, basis):
    share = math.sqrt(2) if basis == "rms" else 1.0
    control = {}
    if rng.random() < 0.3:
        control["max_phase_current_a"] = phase * rng.uniform(0.5, 1.5) / share
    if rng.random() < 0.3:
        control["max_pack_current_a"] = log(rng, 10, 200)
    if rng.random() < 0.1:
        control["max_electrical_rpm"] = kv * volts * pairs * rng.uniform(0.3, 1.3)
    if rng.random() < 0.8:
        control["max_modulation"] = rng.choice([0.95, 1.0, 1.1027, rng.uniform(0.5, 1.1)])
    if rng.random() < 0.25:
        control["mtpa"] = False
    if rng.random() < 0.6:
        control["resistance_mohm"] = log(rng, 1, 20)
    if rng.random() < 0.6:
        control["standby_w"] = log(rng, 0.5, 30)
    if rng.random() < 0.2:
        control["foldback_start_v"] = volts * rng.uniform(0.7, 1.1)
        control["foldback_end_v"] = control["foldback_start_v"] * rng.uniform(0.6, 0.97)
    return control


def _bike(rng, roll_out, ratio):
    bike = {
        "bike_mass_kg": rng.uniform(15, 60),
        "rider_kg": rng.uniform(50, 110),
        "circumference_m": roll_out,
    }
    if rng.random() < 0.3:
        bike["load_kg"] = rng.uniform(0, 100)
    if rng.random() < 0.25:
        bike["road_load_n"] = [rng.uniform(2, 20), rng.uniform(-0.1, 1.0), rng.uniform(0.1, 0.5)]
    else:
        bike["rolling_coefficient"] = rng.uniform(0.003, 0.02)
        bike["drag_area_m2"] = rng.uniform(0.2, 0.9)
    if rng.random() < 0.2:
        gears = rng.randint(2, 4)
        bike["gear_ratios"] = [ratio * rng.uniform(0.6, 2.5) for _ in range(gears)]
    elif ratio != 1.0:
        bike["final_drive_ratio"] = ratio
    if rng.random() < 0.5:
        bike["final_drive_efficiency"] = rng.uniform(0.85, 1.0)
    if rng.random() < 0.2:
        bike["rider_power_w"] = rng.uniform(20, 250)
    return bike
