"""Bench readings of the demo's direct-drive motor, noisy and from meters that are a little off.

``python -m tests.synthetic.bench > curves/demo/hub-bench.toml`` writes the demo's file.
"""

from dataclasses import dataclass

import numpy as np

from curves import load_profile
from curves.units import RPM

COPPER = 0.00393
PAIRS = ("A-B", "B-C", "C-A")
PACK_OHM = 0.105
ROLL_OUT_M = 2.05


@dataclass(frozen=True)
class Meters:
    """What each instrument multiplies its readings by."""

    volts: float = 1.0
    amperes: float = 1.0
    henries: float = 1.0
    rpm: float = 1.0


def meters(rng):
    """Instruments drawn from the bench file's default uncertainties."""
    return Meters(*(1 + 0.01 * p * rng.standard_normal() for p in (0.5, 1.0, 2.0, 0.2)))


def tree(rng, off=None, motor=None, noise=1.0, modulation=1.0):
    """Readings as a bench file's tree.

    Args:
        rng: Where noise comes from.
        off: Instruments; perfect ones if left out.
        motor: The truth; the demo's direct-drive hub if left out.
        noise: Factor on every reading's own scatter.
        modulation: What the controller reaches, which the file takes to be 1.
    """
    m, off = motor or load_profile("demo-hub-direct"), off or Meters()
    phases = np.array((1.004, 0.998, 0.998)) * m.resistance_ohm

    def scatter(share):
        return 1 + noise * share * rng.standard_normal()

    resistance = []
    for pair, ohm in zip(PAIRS, phases, strict=True):
        for amperes in (3.0, 6.0, -6.0):
            celsius = 21.0 + (abs(amperes) > 3)
            volts = amperes * ohm * (1 + COPPER * (celsius - 20)) * scatter(0.002)
            resistance.append(
                {
                    "pair": pair,
                    "amperes": round(amperes * off.amperes, 3),
                    "millivolts": round(1000 * volts * off.volts, 2),
                    "winding_c": celsius,
                }
            )
    inductance = []
    middle = (m.inductance_d_uh + m.inductance_q_uh) / 2
    swing = (m.inductance_q_uh - m.inductance_d_uh) / 2
    for k, pair in enumerate(PAIRS):
        for rim_mm in np.arange(0.0, 52.0, 6.0):
            angle = 2 * np.pi * m.pole_pairs * rim_mm / (1000 * ROLL_OUT_M)
            true = middle - swing * np.cos(2 * (angle - 0.4 - k * 2 * np.pi / 3))
            inductance.append(
                {
                    "pair": pair,
                    "rim_mm": float(rim_mm),
                    "microhenries": round(true * off.henries * scatter(0.005), 1),
                }
            )
    emf = []
    for rpm in (90.0, 140.0, 200.0, 260.0):
        celsius = 22.0
        kv = m.kv_rpm_per_v / (1 + m.magnet_coefficient_per_k * (celsius - 20))
        rms = rpm / kv / np.sqrt(2) * scatter(0.003)
        emf.append(
            {
                "volts": round(rms * off.volts, 3),
                "per": "rms line-to-line",
                "rotor_rpm": round(rpm * off.rpm, 1),
                "magnet_c": celsius,
            }
        )
    no_load = []
    for volts in (24.0, 32.0, 40.0, 48.0, 56.0):
        rpm, amperes = spun(m, volts * modulation, 24.0)
        no_load.append(
            {
                "pack_v": round(volts * off.volts, 2),
                "pack_a": round(amperes * modulation * off.amperes * scatter(0.01), 3),
                "rotor_rpm": round(rpm * off.rpm * scatter(0.002), 1),
                "winding_c": 24.0,
            }
        )
    pack = [
        {
            "resting_v": round(56.4 * off.volts, 2),
            "loaded_v": round((56.4 - PACK_OHM * amperes * scatter(0.02)) * off.volts, 2),
            "amperes": round(amperes * off.amperes, 2),
        }
        for amperes in (8.0, 15.0, 22.0)
    ]
    return {
        "format": "rimforce-bench-1",
        "title": "Readings of the demo's direct-drive hub motor",
        "note": "made up by a program that knows the answer",
        "ambient_c": 22.0,
        "drive": {"max_modulation": 1.0, "resistance_mohm": 0.0, "standby_w": 0.0},
        "not_measured": {
            "pole_pairs": m.pole_pairs,
            "magnet_coefficient_per_k": m.magnet_coefficient_per_k,
            "sources": {"magnet_coefficient_per_k": "typical: neodymium"},
        },
        "poles": [
            {"electrical_hz": round(m.pole_pairs * rpm / 60, 1), "rotor_rpm": rpm}
            for rpm in (200.0, 300.0)
        ],
        "resistance": resistance,
        "inductance": inductance,
        "back_emf": emf,
        "no_load": no_load,
        "pack_load": pack,
        "roll_out": [
            {"distance_m": round(3 * ROLL_OUT_M * scatter(0.001), 3), "turns": 3} for _ in range(2)
        ],
    }


def spun(motor, volts, celsius):
    """Speed, rpm, and bus amperes of the motor without load, by bisection on the voltage."""
    p, r = motor.pole_pairs, motor.resistance_ohm / 2 * (1 + COPPER * (celsius - 20))
    hot = 1 + motor.magnet_coefficient_per_k * (celsius - 20)
    flux = hot / (np.sqrt(3) * p * motor.kv_rpm_per_v * RPM)
    lq = motor.inductance_q_uh / 2 * 1e-6

    def draws(w):
        torque = motor.no_load_torque_nm + motor.no_load_torque_nm_per_rad_s * w
        return torque, torque / (1.5 * p * flux)

    low, high = 0.0, 3 * volts * motor.kv_rpm_per_v * RPM
    for _ in range(200):
        w = (low + high) / 2
        _, current = draws(w)
        needs = np.hypot(r * current + p * w * flux, p * w * lq * current)
        low, high = (w, high) if needs < volts / np.sqrt(3) else (low, w)
    torque, current = draws(w)
    return w / RPM, (torque * w + 1.5 * r * current**2) / volts


def text(readings):
    """The tree as the TOML a person would write."""
    lines = [
        "# Readings at a workshop's bench, for `rimforce bench`. The motor is invented and so are",
        "# they: a program that knows the answer added the scatter and the faults of meters.",
        "",
    ]
    plain = ("format", "title", "note", "ambient_c")
    lines += [f"{key} = {_written(readings[key])}" for key in plain]
    for key, value in readings.items():
        if isinstance(value, list):
            about = ABOUT[key]
            lines += ["", *(f"# {line}" for line in about), f"{key} = ["]
            lines += [f"    {_written(row)}," for row in value] + ["]"]
    for key, value in readings.items():
        if isinstance(value, dict):
            plain = {k: v for k, v in value.items() if not isinstance(v, dict)}
            lines += ["", *(f"# {line}" for line in ABOUT[key]), f"[{key}]"]
            lines += [f"{k} = {_written(v)}" for k, v in plain.items()]
            for k, below in value.items():
                if isinstance(below, dict):
                    lines += [f"{k}.{name} = {_written(v)}" for name, v in below.items()]
    return "\n".join(lines) + "\n"


ABOUT = {
    "poles": ("Electrical against mechanical speed, from a meter that shows hertz.",),
    "resistance": (
        "Four-wire: a bench supply drives amperes through two leads, a meter reads the millivolts",
        "at the motor's own leads; both ways round, because joints of two metals add a little.",
    ),
    "inductance": (
        "LCR meter across two leads while the wheel is turned by hand, so many millimetres of tyre",
        "past a mark. The other pairs again, from the same mark.",
    ),
    "back_emf": ("The wheel spun by a drill, leads open: volts between two of them.",),
    "no_load": ("Wheel off the ground, full throttle, weakening off, at several pack voltages.",),
    "pack_load": ("Resting and loaded volts of the pack, ten seconds after the load came on.",),
    "roll_out": ("Three turns of the loaded wheel along a tape.",),
    "drive": ("What turned the motor for the no-load readings.",),
    "not_measured": ("What was not measured, as in a motor profile.",),
}


def _written(value):
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_written(v)}" for k, v in value.items()) + " }"
    return repr(float(value)) if isinstance(value, float) else repr(value)


if __name__ == "__main__":
    draw = np.random.default_rng(20240611)
    print(text(tree(draw, meters(draw))), end="")
