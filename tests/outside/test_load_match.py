"""The most power a source with a resistance can give: V2 / 4R, at half its voltage.

Source: the maximum power transfer theorem, in every textbook on circuits.
"""

import numpy as np
import pytest

from curves.motion.runs import power_ceiling
from curves.setups.stack import stack
from curves.steady.envelope import envelope
from tests.runs_cases import KV, rigs

VOLTS, OHM = 48.0, 0.1
MOST = VOLTS**2 / (4 * OHM)


def test_no_setup_draws_more():
    # Far more phase current than the pack can feed, and voltage to spare at half.
    setup = rigs(
        motor=f"kv_rpm_per_v = {float(KV) * 4!r}",
        pack=f"open_circuit_v = {VOLTS}\nresistance_ohm = {OHM}",
        tune="phase_current_a = 1e4",
    )
    assert power_ceiling(stack(setup).batch())[0] == pytest.approx(MOST, rel=1e-9)
    curve = envelope(setup, np.linspace(0.0, 200.0, 81))
    assert np.nanmax(curve.pack_power) <= MOST * (1 + 1e-12)
    at = np.nanargmax(curve.pack_power[0])
    assert curve.pack_voltage[0, at] == pytest.approx(VOLTS / 2, rel=1e-6)
