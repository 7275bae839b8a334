"""Facts of the trade, common practice with no source, held against stiff nominal packs (no sag)."""

import numpy as np
import pytest

from curves import parse_job
from curves.parts.pack import cell_curve, cell_voltage
from curves.steady.envelope import envelope, words
from curves.units import KMH

JOB = """
format = "rimforce-job-1"
[motor.hub]
kv_rpm_per_v = 9.0
resistance_ohm = 0.1
inductance_d_uh = 200.0
inductance_q_uh = 200.0
pole_pairs = 20
[pack.v48]
open_circuit_v = 48.0
resistance_ohm = 0.0
[pack.v52]
open_circuit_v = 52.0
resistance_ohm = 0.0
[pack.v72]
open_circuit_v = 72.0
resistance_ohm = 0.0
[tune.capped]
phase_current_a = 200.0
pack_current_a = 30.0
power_cap_w = 1500.0
[bike.any]
bike_mass_kg = 30.0
rider_kg = 80.0
circumference_m = 2.1
rolling_coefficient = 0.01
drag_area_m2 = 0.6
""" + "".join(
    f'[[setup]]\nname = "{v}"\nmotor = "hub"\npack = "v{v}"\ntune = "capped"\nbike = "any"\n'
    for v in (48, 52, 72)
)
FULL_CELL_V = 4.2


@pytest.mark.parametrize(
    ("sold_as", "cells", "full"), [(48, 13, 54.6), (52, 14, 58.8), (72, 20, 84)]
)
def test_packs_sold_as(sold_as, cells, full):
    assert cells * FULL_CELL_V == pytest.approx(full, abs=1e-9)
    # The published curve meets 4.2 V to 1 mV a cell.
    assert cells * float(cell_voltage("nmc-21700", 1.0)) == pytest.approx(full, abs=1e-3 * cells)
    # What it is sold as is its nominal voltage, rounded: within one cell of the name.
    assert (
        abs(cells * cell_curve("nmc-21700").nominal_v - sold_as) < cell_curve("nmc-21700").nominal_v
    )


@pytest.mark.parametrize(
    ("name", "amperes", "watts", "limit"),
    [
        ("48", 30.0, 1440.0, "pack current"),
        ("52", 28.8, 1500.0, "power cap"),
        ("72", 20.8, 1500.0, "power cap"),
    ],
)
def test_what_limits_at_equal_watts(name, amperes, watts, limit):
    rig = parse_job(JOB).rig(name)
    at = envelope([rig], np.array([25 * KMH]))
    assert at.pack_power[0, 0] == pytest.approx(watts, rel=1e-12)
    # Amperes are told to 0.1 A.
    assert at.pack_current[0, 0] == pytest.approx(amperes, abs=0.05)
    assert words(at.limited[0, 0]) == [limit]
