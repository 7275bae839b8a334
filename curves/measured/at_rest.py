"""What is read with the motor at rest: resistance, inductance, poles, pack, roll-out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from curves.measured.estimate import Estimate, linear_fit, mean
from curves.measured.inductance import from_angles
from curves.measured.readings import Bench
from curves.measured.shift import Found, Shift, celsius, pole_count
from curves.parts.motor import COPPER_COEFFICIENT_PER_K
from curves.units import MILLI


def roll_out(bench: Bench, shift: Shift, _: Found, warnings: list[str]) -> Found:
    """Metres a turn of the driven wheel."""
    if not bench.roll_out:
        return {}
    rows = np.array([(row.distance_m, row.turns) for row in bench.roll_out], dtype=np.float64)
    each = rows[:, 0] / rows[:, 1] * shift.of("metres_percent")
    fit = linear_fit(rows[:, 1:], rows[:, 0] * shift.of("metres_percent"))
    if np.ptp(each) > 0.01 * each.mean():
        warnings.append(
            f"The roll-outs differ by {np.ptp(each) / each.mean():.1%}: was the bike as heavily "
            "loaded, and the tyre as hard, each time?"
        )
    value = Estimate(float(fit.values[0]), fit.uncertainty(0), len(rows), "rolled along a tape")
    return {"circumference_m": value}


def pole_pairs(bench: Bench, shift: Shift, _: Found, warnings: list[str]) -> Found:
    """Pole pairs from electrical over mechanical speed, a whole number."""
    if not bench.poles:
        return {}
    gear, speed = bench.gear_ratio, shift.of("rpm_percent")
    electrical = np.array(
        [(row.electrical_hz or 0) * 60 or row.electrical_rpm for row in bench.poles]
    )
    rotor = np.array([row.rotor_rpm or (row.wheel_rpm or 0) * gear for row in bench.poles])
    # The same tachometer may have read both, or either; its fault is counted once.
    pairs = mean(
        np.asarray(electrical / rotor, dtype=np.float64) * speed, "electrical over mechanical speed"
    )
    whole = round(pairs.value)
    if abs(pairs.value - whole) > 0.1 or whole < 1:
        warnings.append(
            f"Electrical over mechanical speed gives {pairs.value:.2f} pole pairs, which is not "
            "near a whole number: check both speeds, and gear_ratio if the wheel's was read."
        )
    counted = bench.not_measured.given("pole_pairs")
    if counted and counted != whole:
        warnings.append(f"{counted:g} pole pairs were counted, but the speeds give {whole}.")
    return {"pole_pairs": replace(pairs, value=float(max(whole, 1)), uncertainty=0.0)}


def resistance(bench: Bench, shift: Shift, _: Found, warnings: list[str]) -> Found:
    """Terminal to terminal at 20 °C, the mean of the pairs read."""
    if not bench.resistance:
        return {}
    meter = shift.of("volts_percent") / shift.of("amperes_percent")
    per_pair: dict[str, float] = {}
    scatter: list[float] = []
    for pair in sorted({row.pair for row in bench.resistance}):
        rows = [row for row in bench.resistance if row.pair == pair]
        amperes = np.array([row.amperes for row in rows])
        volts = np.array([row.millivolts for row in rows]) * MILLI * meter
        warm = 1 + COPPER_COEFFICIENT_PER_K * (
            celsius(bench, [row.winding_c for row in rows], shift) - 20
        )
        fit = linear_fit((amperes * warm)[:, None], volts)
        per_pair[pair] = float(fit.values[0])
        if fit.degrees:
            scatter.append(fit.uncertainty(0))
    each = np.array(list(per_pair.values()))
    whole = mean(each, f"four-wire, {len(per_pair)} pairs of leads, corrected to 20 °C")
    if each.size < 3:
        missing = ", ".join(sorted({"A-B", "B-C", "C-A"} - per_pair.keys()))
        warnings.append(
            f"Resistance was read between {each.size} of 3 pairs: {missing} is missing."
        )
    if np.ptp(each) > max(0.02 * each.mean(), 3 * float(np.max(scatter, initial=0.0))):
        low, high = min(per_pair, key=per_pair.__getitem__), max(per_pair, key=per_pair.__getitem__)
        warnings.append(
            f"The phases differ: {high} has {per_pair[high] / per_pair[low] - 1:.1%} more "
            f"resistance than {low}. Look for a poor joint, or a lead read with the winding."
        )
    readings = len(bench.resistance)
    own = float(np.sqrt(np.sum(np.square(scatter)))) / max(each.size, 1) if scatter else 0.0
    return {"resistance_ohm": replace(whole, readings=readings).with_also(own)}


def inductance(bench: Bench, shift: Shift, found: Found, warnings: list[str]) -> Found:
    """Least and most over the electrical angle, from whichever angle was read."""
    if not bench.inductance:
        return {}
    pairs = pole_count(bench, found)
    per_rim_mm = np.nan
    if "circumference_m" in found:
        per_rim_mm = 360 * bench.gear_ratio * MILLI / found["circumference_m"].value
    angles = []
    for row in bench.inductance:
        rotor = row.rotor_deg if row.rim_mm is None else row.rim_mm * per_rim_mm
        turned = row.electrical_deg if rotor is None else pairs * rotor
        angles.append(turned)
    values = np.array([row.microhenries for row in bench.inductance])
    return from_angles(
        np.array([row.pair for row in bench.inductance]),
        np.radians(np.array(angles, dtype=np.float64)),
        values * shift.of("henries_percent"),
        warnings,
    )


def pack(bench: Bench, shift: Shift, _: Found, warnings: list[str]) -> Found:
    """Resistance of the pack from its sag."""
    if not bench.pack_load:
        return {}
    amperes = np.array([row.amperes for row in bench.pack_load]) * shift.of("amperes_percent")
    sag = np.array([row.resting_v - row.loaded_v for row in bench.pack_load]) * shift.of(
        "volts_percent"
    )
    fit = linear_fit(amperes[:, None], sag)
    if fit.degrees and np.ptp(sag / amperes) > 0.2 * fit.values[0]:
        warnings.append(
            f"The pack's resistance differs by {np.ptp(sag / amperes) / fit.values[0]:.0%} between "
            "readings: read as many seconds after the load comes on each time."
        )
    if len(bench.pack_load) < 2:
        warnings.append("One reading of the pack under load has no check: take two or three.")
    how = "resting less loaded volts over amperes"
    value = Estimate(float(fit.values[0]), fit.uncertainty(0), len(bench.pack_load), how)
    return {"pack_resistance_ohm": value}
