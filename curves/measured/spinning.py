"""What is read with the motor turning without load: Kv and no-load torque."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from curves.measured.estimate import Estimate, linear_fit, mean
from curves.measured.readings import Bench
from curves.measured.rows import VoltKind
from curves.measured.shift import Found, Shift, alpha, celsius, pole_count, rotor_rpm, value
from curves.numerics.roots import Array
from curves.parts.motor import COPPER_COEFFICIENT_PER_K, flux_linkage
from curves.units import MICRO, MILLI, PEAK_PER_RMS, RPM

SQRT3: Final = float(np.sqrt(3))
PEAK_VOLTS: Final[dict[VoltKind, float]] = {
    "dc volt": 1.0,
    "peak line-to-line": 1.0,
    "rms line-to-line": PEAK_PER_RMS,
    "peak phase": SQRT3,
    "rms phase": SQRT3 * PEAK_PER_RMS,
    "peak to peak": 0.5,
}
"""Peak line-to-line volts of a sine per volt as read; a DC volt at full linear modulation."""
KIND_WORDS: Final[dict[VoltKind, str]] = {
    "dc volt": "DC volt",
    "peak line-to-line": "peak volt, line to line",
    "rms line-to-line": "rms volt, line to line",
    "peak phase": "peak volt of a phase",
    "rms phase": "rms volt of a phase",
    "peak to peak": "volt peak to peak, line to line",
}
STATED_SHARE: Final = 0.03
"""Standard uncertainty of a Kv that someone states (common practice)."""


def back_emf(bench: Bench, shift: Shift, _: Found, warnings: list[str]) -> Found:
    """Kv from the voltage of the spun motor."""
    if not bench.back_emf:
        return {}
    rows = bench.back_emf
    peak = np.array([row.volts * PEAK_VOLTS[row.per] for row in rows]) * shift.of("volts_percent")
    rotor = rotor_rpm(bench, [(row.rotor_rpm, row.wheel_rpm) for row in rows], shift)
    cold = 1 + alpha(bench) * (celsius(bench, [row.magnet_c for row in rows], shift) - 20)
    each = rotor / peak * cold
    kv = mean(each, "back-EMF of the spun motor, corrected to 20 °C")
    _kv_warnings(each, rotor, warnings, "back-EMF")
    return {"kv_rpm_per_v": kv}


def no_load(bench: Bench, shift: Shift, found: Found, warnings: list[str]) -> Found:
    """No-load torque, and Kv unless it is known from the spun motor.

    With both known, the modulation the controller reaches follows.
    """
    rows = bench.no_load
    if not rows:
        return {}
    pairs = pole_count(bench, found)
    known = "resistance_ohm" in found or bench.not_measured.given("resistance_ohm", -1.0) >= 0
    if not known or not pairs:
        warnings.append(
            "The no-load readings are not used: they need the resistance and the pole pairs."
        )
        return {}
    volts = np.array([row.pack_v for row in rows]) * shift.of("volts_percent")
    amperes = np.array([row.pack_a for row in rows]) * shift.of("amperes_percent")
    rpm = rotor_rpm(bench, [(row.rotor_rpm, row.wheel_rpm) for row in rows], shift)
    winding_c = celsius(bench, [row.winding_c for row in rows], shift)
    magnets = [row.winding_c if row.magnet_c is None else row.magnet_c for row in rows]
    phase = value(bench, found, "resistance_ohm") / 2
    ohm = phase * (1 + COPPER_COEFFICIENT_PER_K * (winding_c - 20))
    lq = value(bench, found, "inductance_q_uh") / 2 * MICRO
    spin = Spin(
        speed=rpm * RPM,
        room=volts * bench.drive.max_modulation * shift.of("modulation_percent") / SQRT3,
        power=volts * amperes - bench.drive.standby_w,
        ohm=ohm + bench.drive.resistance_mohm * MILLI,
        henry=np.full(rpm.size, lq),
        pairs=pairs,
    )
    if np.any(spin.power <= 0):
        warnings.append("A no-load reading draws no more than the standby power: check pack_a.")
        return {}
    flux, torque = spin.solve()
    cold = 1 + alpha(bench) * (celsius(bench, magnets, shift) - 20)
    each = 1 / (SQRT3 * pairs * (flux / cold) * RPM)
    result = _drag(spin.speed, torque, warnings)
    if "kv_rpm_per_v" in found and bench.back_emf:
        # Of the bus volts the controller reached so many as this Kv needs for that speed.
        actual = flux_linkage(found["kv_rpm_per_v"].value, pairs) * cold
        torque = replace(spin, flux=actual).solve()[1]
        reached = mean(bench.drive.max_modulation * actual / flux, "no-load speed against back-EMF")
        off = reached.value / bench.drive.max_modulation - 1
        if abs(off) > 0.04:
            warnings.append(
                f"The no-load speed is {off:+z.1%} off what the back-EMF gives: the controller "
                f"reaches a modulation of {reached.value:.3f}, or weakening was on."
            )
        return _drag(spin.speed, torque, []) | {"max_modulation": reached}
    _kv_warnings(each, rpm, warnings, "no-load")
    how = "no-load speed, drop of resistance and inductance taken off, corrected to 20 °C"
    return result | {"kv_rpm_per_v": mean(each, how)}


@dataclass(frozen=True)
class Spin:
    """The motor turning without load: arrays of shape (readings,), SI, one phase.

    Attributes:
        speed: rad/s of the rotor.
        room: Peak phase volts the controller reaches.
        power: W into controller and motor, standby taken off.
        ohm: Of one phase, hot, controller included.
        henry: Of one phase, q axis.
        pairs: Pole pairs.
        flux: Wb where it is known; None to find it from the volts.
    """

    speed: Array
    room: Array
    power: Array
    ohm: Array
    henry: Array
    pairs: int
    flux: Array | None = None

    def solve(self) -> tuple[Array, Array]:
        """Flux linkage, Wb, and no-load torque, N·m, with i_d = 0.

        ``room² = (R i_q + ω λ)² + (ω L_q i_q)²``, ``P = 1.5 R i_q² + ω_m T``, ``T = 1.5 p λ i_q``.
        """
        electrical = self.pairs * self.speed
        flux = self.room / electrical if self.flux is None else self.flux
        current = np.zeros_like(self.speed)
        for _ in range(50):
            torque = (self.power - 1.5 * self.ohm * current**2) / self.speed
            before, current = current, torque / (1.5 * self.pairs * flux)
            if self.flux is None:
                across = np.maximum(self.room**2 - (electrical * self.henry * current) ** 2, 0.0)
                flux = (np.sqrt(across) - self.ohm * current) / electrical
            if np.all(np.abs(current - before) <= 1e-12 * np.abs(current)):
                break
        return flux, torque


def _drag(speed: Array, torque: Array, warnings: list[str]) -> Found:
    """No-load torque: what stays and what grows with speed."""
    how = "input power at no load over speed, copper and standby taken off"
    apart = np.ptp(speed) > 0.15 * speed.max()
    if not apart:
        warnings.append(
            "The no-load readings are all at about one speed: what grows with speed cannot be "
            "told from what stays. Take them at three voltages or more."
        )
        steady = mean(torque, how)
        return {"no_load_torque_nm": steady}
    # Amperes scatter by a share of themselves, so the fit weighs shares.
    fit = linear_fit(np.column_stack((1 / torque, speed / torque)), np.ones_like(speed))
    if fit.degrees < 1:
        warnings.append(
            "Two no-load readings give a line without a check: take three voltages or more."
        )
    elif fit.scatter > 0.05:
        warnings.append(
            f"The no-load torque scatters by {fit.scatter:.0%} about its line: "
            "the speed may not have settled, or bearings and seals were still cold."
        )
    names = ("no_load_torque_nm", "no_load_torque_nm_per_rad_s")
    found = {
        name: Estimate(float(fit.values[k]), fit.uncertainty(k), speed.size, how)
        for k, name in enumerate(names)
    }
    negative = [name for name in names if found[name].value < 0]
    if not negative:
        return found
    kept = names[1 - names.index(negative[0])]
    column = np.ones_like(speed) if kept == names[0] else speed
    alone = linear_fit((column / torque)[:, None], np.ones_like(speed))
    warnings.append(
        f"{negative[0]} came out negative ({found[negative[0]].value:.3g}) and is set to 0: "
        "check the amperes at the lowest and the highest voltage."
    )
    return {
        kept: Estimate(float(alone.values[0]), alone.uncertainty(0), speed.size, how),
        negative[0]: replace(found[negative[0]], value=0.0),
    }


def stated(bench: Bench, _: Shift, found: Found, warnings: list[str]) -> Found:
    """Kv as someone states it, where nothing was read; a check where it was."""
    if bench.kv_stated is None:
        return {}
    stated = bench.kv_stated
    # A DC volt makes as many peak line-to-line volts as this controller turns to account.
    volt = bench.drive.max_modulation if stated.per == "dc volt" else PEAK_VOLTS[stated.per]
    kv = stated.rpm_per_v / volt
    how = f"stated as {stated.rpm_per_v:g} rpm per {KIND_WORDS[stated.per]}"
    if "kv_rpm_per_v" not in found:
        return {"kv_rpm_per_v": Estimate(kv, STATED_SHARE * kv, 0, how)}
    own = found["kv_rpm_per_v"].value
    if abs(kv / own - 1) > STATED_SHARE:
        warnings.append(
            f"Kv was {how}, which is {kv:.3g} rpm per peak line-to-line volt: {kv / own - 1:+z.0%} "
            "from the measured one. It may have been meant for another kind of volt."
        )
    return {}


def _kv_warnings(each: Array, rpm: Array, warnings: list[str], what: str) -> None:
    if each.size < 3:
        warnings.append(
            f"Kv rests on {each.size} {what} reading{'s' * (each.size > 1)}: take three or more."
        )
    if each.size > 1 and np.ptp(each) > 0.02 * each.mean():
        order = np.argsort(rpm)
        trend = each[order[-1]] / each[order[0]] - 1
        why = (
            "weakening may have been on, or throttle not full"
            if what == "no-load"
            else "a hand-held tachometer or a meter that is no true-rms one does that"
        )
        warnings.append(
            f"Kv differs by {np.ptp(each) / each.mean():.1%} between {what} readings "
            f"({trend:+z.1%} from the slowest to the fastest): {why}."
        )
