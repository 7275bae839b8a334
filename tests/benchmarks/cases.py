"""Setups for the benchmarks: the demo job's, with sag and weakening, varied field by field."""

import numpy as np

from curves.numerics.roots import Array
from curves.parts.job import load_job
from curves.point.limits import SQRT3, Drive
from curves.setups.stack import stack

RIG = "13 cells, weakened"
SEED = 7
MOTORS = ("surface magnets", "interior magnets")


def drives(motor: str, setups: int) -> Drive:
    """Setups around the demo's weakened one; every field of shape (setups, 1)."""
    base = stack([load_job().rig(RIG)])
    random = np.random.default_rng(SEED).uniform

    def between(low: float, high: float) -> Array:
        return random(low, high, setups)

    ld = between(200.0, 400.0)
    lq = ld * (1.0 if motor == MOTORS[0] else between(1.2, 2.0))
    varied = base.vary(
        {
            "motor.kv_rpm_per_v": between(7.0, 12.0),
            "motor.resistance_ohm": between(0.1, 0.3),
            "motor.inductance_d_uh": ld,
            "motor.inductance_q_uh": lq,
            "pack.series": np.floor(between(10.0, 21.0)),
            "pack.cell_resistance_mohm": between(20.0, 60.0),
            "setup.state_of_charge": between(0.2, 1.0),
            "pack.bms_cutoff_v": np.zeros(setups),
            "tune.low_voltage_cutoff_v": np.zeros(setups),
            "tune.phase_current_a": between(40.0, 95.0),
            "tune.pack_current_a": between(15.0, 35.0),
            "tune.power_cap_w": between(500.0, 3000.0),
            "tune.field_weakening_a": between(5.0, 50.0),
        }
    )
    return varied.batch().drive


def batch(motor: str, points: int) -> tuple[Drive, Array]:
    """``points`` points: drives, and rotor speeds from rest past where each needs weakening."""
    speeds = min(points, 1000)
    d = drives(motor, points // speeds)
    ideal = d.modulation * d.open_circuit_v / (SQRT3 * d.pole_pairs * d.flux)
    return d, ideal * np.linspace(0.0, 1.1, speeds)


def some(d: Drive, speed: Array, count: int) -> tuple[list[dict[str, float]], Array, Array]:
    """A few points of a batch as plain numbers, and their (row, column) in it."""
    random = np.random.default_rng(SEED)
    rows = random.integers(0, speed.shape[0], count)
    columns = random.integers(0, speed.shape[1], count)
    fields = {name: x for name, x in d._asdict().items() if not name.startswith("derating")}
    points = [
        {name: float(x[r, 0]) for name, x in fields.items()} | {"speed": float(speed[r, c])}
        for r, c in zip(rows, columns, strict=True)
    ]
    return points, rows, columns
