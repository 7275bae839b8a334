"""Gains at a point in the job's own units: against differences of whole setups."""

import numpy as np
import pytest

from curves.setups.stack import stack
from curves.steady.envelope import batch_envelope
from curves.steady.gains import rotor_per_road, torque_gains
from curves.units import KMH
from tests.unit.one_rig import rig

SPEEDS = np.array([0.0, 10.0, 25.0, 38.0, 45.0, 52.0, 57.0]) * KMH
FIELDS = {
    "series_cell": "pack.series",
    "pack_a": "tune.pack_current_a",
    "phase_a": "tune.phase_current_a",
    "weakening_a": "tune.field_weakening_a",
    "w": "tune.power_cap_w",
}
RIGS = [
    rig(tune__current_basis=basis, tune__field_weakening_a=weakening, tune__power_cap_w=cap)
    for basis in ("peak", "rms")
    for weakening, cap in ((0.0, 4000.0), (12.0, 700.0))
]
STEP = 1e-6


def torque(setups):
    return batch_envelope(setups.batch(), setups.names, SPEEDS).torque


@pytest.mark.parametrize("name", FIELDS)
def test_a_little_more_gives_what_the_gain_says(name):
    setups = stack(RIGS)
    batch = setups.batch()
    drawn = batch_envelope(batch, setups.names, SPEEDS)
    gain = torque_gains(batch, drawn.gain)[name]
    field = FIELDS[name]
    step = STEP * np.maximum(setups.values[field], 1.0)
    change = torque(setups.vary({field: setups.values[field] + step})) - drawn.torque
    wanted = change / step[:, None]
    assert gain == pytest.approx(wanted, rel=1e-4, abs=1e-5, nan_ok=True)
    assert np.nanmax(gain) > 0


def test_a_source_pack_has_no_cells():
    source = stack([rig()]).batch()
    source = source._replace(cell_v=source.cell_v * np.nan, cell_ohm=source.cell_ohm * np.nan)
    drawn = batch_envelope(source, ("one",), SPEEDS)
    gain = torque_gains(source, drawn.gain)
    assert np.isnan(gain["series_cell"]).all()
    assert np.isfinite(gain["pack_v"][0, 0])


def test_rotor_turns_are_those_of_the_gear_that_drives():
    geared = stack([rig(bike__gear_ratios=[1.0, 2.5])])
    batch = geared.batch()
    drawn = batch_envelope(batch, geared.names, SPEEDS)
    assert set(drawn.gear[0, :2]) == {1}
    turns = rotor_per_road(batch, drawn.gear) * SPEEDS
    assert turns == pytest.approx(drawn.rotor_speed, rel=1e-12)
